"""Invented phrases: a pickup, a long note with a sign over a chord that makes it lean or pass, a close.

Each row of `ROWS` is a melody of small note and main note with a chord under it, in C major or C minor; the same melody
stands over chords it belongs to and chords it leans on, so the melody alone tells nothing. The chord goes on to the
dominant and the tonic; the upper voices are led as those of any accompaniment from chord symbols. In other keys they
are the same phrases moved (`phrase.Setting`). Chords and progressions: common practice, no source.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from appui.accompany.add import with_symbols
from appui.drill.phrase import Phrase
from appui.exact import Fraction
from appui.harmony.kinds import parse_symbol, symbol_places
from appui.harmony.spelling import letter_of
from appui.score.model import Bar, Event, Key, Meter, Note, Ornament, Part, Score, SmallNote, TempoMark, Voice
from appui.score.pitch import parse_pitch
from appui.score.repeats import once
from appui.score.signs import find_signs

__all__ = ["ROWS", "TRILLS", "Row", "invent", "invented"]

_METER = Meter(3, 4)
_QPM = Fraction(72)


class Row(NamedTuple):
    """A melody over a chord: small note (none for a trill), main note, chord, whether the small note belongs to it.

    `then` are the note after the main note and its chord, `last` the final note and its chord.
    """

    minor: bool
    small: str
    main: str
    chord: str
    member: bool
    then: tuple[str, str]
    last: tuple[str, str]


# fmt: off
#   minor  small  main  chord    member  then           last
_LIST = """
    major  G5     F5    F        no      D5 G7          C5 C
    major  G5     F5    Dm/F     no      D5 G           C5 C
    major  G5     F5    Dm       no      D5 G7          E5 C
    major  G5     F5    G7       yes     D5 G7          C5 C
    major  G5     F5    G7/B     yes     D5 G7          C5 C
    major  G5     F5    G7/D     yes     D5 G7          E5 C
    major  D5     C5    C        no      B4 G           C5 C
    major  D5     C5    Am       no      B4 G7          C5 C
    major  D5     C5    C/E      no      B4 G           C5 C
    major  D5     C5    Dm7/F    yes     B4 G           C5 C
    major  D5     C5    D7       yes     B4 G           C5 C
    major  D5     C5    D7/F#    yes     B4 G7          C5 C
    minor  G5     F5    Fm       no      D5 G7          C5 Cm
    minor  G5     F5    Fm/Ab    no      D5 G           C5 Cm
    minor  G5     F5    G7       yes     D5 G7          C5 Cm
    minor  G5     F5    G7/B     yes     D5 G7          Eb5 Cm
    minor  G5     F5    G7/D     yes     D5 G7          Eb5 Cm
    minor  D5     C5    Cm       no      B4 G           C5 Cm
    minor  D5     C5    Ab       no      B4 G7          C5 Cm
    minor  D5     C5    Cm/Eb    no      B4 G           C5 Cm
    minor  D5     C5    Dm7b5/F  yes     B4 G           C5 Cm
    minor  D5     C5    D7       yes     B4 G           C5 Cm
    minor  D5     C5    D7/F#    yes     B4 G7          C5 Cm
"""
#   minor  main   chord  then           last
_TRILL_LIST = """
    major  D5     G7     C5 C           C5 C
    major  D5     G      C5 C/E         E5 C
    major  B4     G7     C5 C           C5 C
    major  D5     Dm     B4 G7          C5 C
    minor  D5     G7     C5 Cm          C5 Cm
    minor  D5     G      C5 Cm/Eb       Eb5 Cm
    minor  B4     G7     C5 Cm          C5 Cm
    minor  F5     Fm     D5 G7          C5 Cm
"""
# fmt: on
#  notes of the tonic chord the pickup is made of
_PICKUPS = {False: ("G4", "C5", "E5", "G5"), True: ("G4", "C5", "Eb5", "G5")}
#  pickup notes go at most so many letter steps
_STEP, _LEAP = 3, 4
_SOLOISTS = (("Oboe", 68), ("Flute", 73), ("Clarinet", 71))


def _rows() -> Iterator[Row]:
    for line in _LIST.split("\n"):
        if line.strip():
            mode, small, main, chord, member, *rest = line.split()
            yield Row(mode == "minor", small, main, chord, member == "yes", (rest[0], rest[1]), (rest[2], rest[3]))


def _trills() -> Iterator[Row]:
    for line in _TRILL_LIST.split("\n"):
        if line.strip():
            mode, main, chord, *rest = line.split()
            yield Row(mode == "minor", "", main, chord, False, (rest[0], rest[1]), (rest[2], rest[3]))


ROWS, TRILLS = tuple(_rows()), tuple(_trills())


def invent(chance: random.Random, *, trill: bool = False, member: bool | None = None) -> Phrase:
    """A phrase with a small note or a trill; `member` whether the small note belongs to its chord, `None` either."""
    row = chance.choice([row for row in (TRILLS if trill else ROWS) if trill or member in (None, row.member)])
    return invented(row, chance.choice(_pickups(row)), chance.randrange(len(_SOLOISTS)))


@lru_cache(maxsize=4096)
def _pickups(row: Row) -> tuple[tuple[str, str, str], ...]:
    """Pickups of three notes that lead to the place by small steps and do not give its main note away."""
    tones = _PICKUPS[row.minor]
    goal = _steps(row.small or row.main)
    seconds = [tone for tone in tones if abs(_steps(tone) - goal) <= _STEP and _steps(tone) != _steps(row.main)]
    return tuple(
        (first, middle, second)
        for second in seconds
        for middle in tones
        for first in tones
        if abs(_steps(middle) - _steps(second)) <= _LEAP and abs(_steps(first) - _steps(middle)) <= _LEAP
    )


def _steps(name: str) -> int:
    return parse_pitch(name).diatonic


@lru_cache(maxsize=2048)
def invented(row: Row, pickup: tuple[str, str, str], soloist: int) -> Phrase:
    """The phrase of a row, a pickup and a soloist."""
    accompanied, chord = _accompanied(row)
    score = replace(accompanied, parts=(_solo(row, pickup, soloist), *accompanied.parts[1:]))
    signs = find_signs(score)
    bass = next(e for e in score.parts[-1].voices[1].events if e.onset_q == 3).notes[0].sounding
    member = None if not row.small else row.member
    return Phrase(score, 0, signs[0], signs, once(score.bars), "invented", chord, bass, member, Fraction(1))


@lru_cache(maxsize=64)
def _accompanied(row: Row) -> tuple[Score, tuple[str, ...]]:
    """The score of a row, the same whoever plays whatever pickup, and the letters of the chord under its sign."""
    tempo = TempoMark(Fraction(0), _QPM, "sound")
    plain = Score("invented", "invented", "", (_solo(row, _pickups(row)[0], 0),), _bars(), (tempo,))
    tonic = row.last[1]
    chords = ((0, tonic.split("/")[0]), (3, row.chord), (5, row.then[1]), (6, tonic))
    symbols = [symbol for at_q, name in chords if (symbol := parse_symbol(name, Fraction(at_q))) is not None]
    score = with_symbols(plain, symbols, "held", "pianoforte", plain.parts[0])
    return score, tuple(letter_of(place) for place in symbol_places(symbols[1]))


def _bars() -> tuple[Bar, ...]:
    return tuple(Bar(index, str(index + 1), Fraction(3 * index), Fraction(3), _METER) for index in range(3))


def _solo(row: Row, pickup: tuple[str, str, str], soloist: int) -> Part:
    name, program = _SOLOISTS[soloist]
    events = [_event(Fraction(at_q), Fraction(1), pitch, slurred=at_q < 2) for at_q, pitch in enumerate(pickup)]
    events += [
        _event(Fraction(3), Fraction(2), row.main, small=row.small, trill=not row.small),
        _event(Fraction(5), Fraction(1), row.then[0]),
        _event(Fraction(6), Fraction(2), row.last[0]),
        Event(Fraction(8), Fraction(1), 2),
    ]
    key = Key(Fraction(0), -3 if row.minor else 0, "minor" if row.minor else "major")
    return Part(0, "S", name, (Voice("1", tuple(events)),), (key,), program=program, bar_numbers=("1", "2", "3"))


def _event(
    onset_q: Fraction, duration_q: Fraction, name: str, *, slurred: bool = False, small: str = "", trill: bool = False
) -> Event:
    pitch = parse_pitch(name)
    ornaments = (Ornament("trill-mark"),) if trill else ()
    note = Note(pitch, pitch, ornaments=ornaments)
    grace = parse_pitch(small) if small else None
    before = (SmallNote((grace,), (grace,), value_q=Fraction(1, 2), type_name="eighth"),) if grace else ()
    return Event(onset_q, duration_q, int(onset_q // 3), (note,), small_before=before, slur_on=slurred)
