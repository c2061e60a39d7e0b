"""Printed harmony: chord symbols and figured bass are the harmony, wherever they stand.

What a symbol or a figure says is told by `kinds` and `figures`. A bass note that bears no figure, or only the dash of
one that goes on, says nothing: it may be a triad, pass by, or be left to the player's ear, so there what sounds
decides, as in a score without figures.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.harmony.figured_bass import rows_under, steps_of
from appui.harmony.kinds import symbol_places, symbol_text
from appui.harmony.places import letter_place, place_of, step_letter
from appui.harmony.spelling import class_of, letter_of
from appui.score.model import ChordSymbol, Event, Figure, Note, Part, Score

__all__ = ["Printed", "printed_at", "printed_six_four"]

_BASS_AGAIN = 8


class Printed(NamedTuple):
    """A printed chord: `fifths` its notes on the line of fifths, first the root (or the bass, for figures).

    `source` in words.
    """

    label: str
    fifths: tuple[int, ...]
    bass: int
    figure: str
    source: str

    @property
    def letters(self) -> tuple[str, ...]:
        """Its notes as letters."""
        return tuple(letter_of(fifth) for fifth in self.fifths)


def printed_at(score: Score, onset_q: Fraction) -> Printed | None:
    """The printed harmony in force at a moment, or `None`: a symbol holds until the next one, four bars at most."""
    for part in score.parts:
        symbol = _latest(part.chord_symbols, onset_q)
        if symbol is not None and _near(score, symbol.onset_q, onset_q):
            found = _of_symbol(symbol)
            if found is not None:
                return found
    for part in score.parts:
        if part.figures:
            return _figured(part, onset_q)
    return None


def _near(score: Score, start_q: Fraction, onset_q: Fraction) -> bool:
    # a chord symbol holds until the next one; four bars without one means the player was left alone
    return score.bar_at(onset_q).index - score.bar_at(start_q).index <= 4


def _latest(symbols: Sequence[ChordSymbol], onset_q: Fraction) -> ChordSymbol | None:
    found = None
    for symbol in symbols:
        if symbol.onset_q > onset_q:
            break
        found = symbol
    return found


def _of_symbol(symbol: ChordSymbol) -> Printed | None:
    places = symbol_places(symbol)
    if not places:
        return None
    bass = letter_place(symbol.bass or symbol.root)
    return Printed(symbol_text(symbol), places, bass, "", "the chord given")


def _figured(part: Part, onset_q: Fraction) -> Printed | None:
    bass = _bass_at(part, onset_q)
    if bass is None:
        return None
    event, note = bass
    rows = rows_under(part.figures, event.onset_q, event.end_q)
    figures = [row for start_q, until_q, row in rows if start_q <= onset_q < until_q]
    says = bool(figures) and any(figure.number or figure.prefix or figure.suffix for figure in figures[-1])
    return _complete(note, figures[-1], part, onset_q) if says else None


def _bass_at(part: Part, onset_q: Fraction) -> tuple[Event, Note] | None:
    for voice in part.voices:
        for event in voice.events:
            if event.onset_q <= onset_q < event.end_q and event.notes:
                return event, min(event.notes, key=lambda note: note.sounding.midi)
    return None


def _complete(bass: Note, figures: tuple[Figure, ...], part: Part, onset_q: Fraction) -> Printed:
    pitch = bass.sounding
    steps = steps_of(figures, pitch, part.key_at(onset_q).alter)
    above = (letter_place(step_letter(pitch, s.number)) + 7 * s.alter for s in steps if s.number != _BASS_AGAIN)
    places = (place_of(pitch), *above)
    shown = "/".join((f.prefix[:1] if f.prefix else "") + f.number for f in figures if f.number or f.prefix)
    return Printed(f"{letter_of(places[0])} {shown}".strip(), places, places[0], shown, "printed figured bass")


def printed_six_four(score: Score, printed: Printed, onset_q: Fraction) -> bool:
    """Whether a printed six-four goes on to another chord over the same bass within a bar: a cadential one may.

    Symbols have no figure; there the fifth of a triad is the bass.
    """
    bass = class_of(printed.bass)
    over_fifth = not printed.figure and len(printed.fifths) == 3 and class_of(printed.fifths[2]) == bass
    if printed.figure != "6/4" and not over_fifth:
        return False
    beat_q = score.bar_at(onset_q).meter.beat_q
    for halves in range(1, 7):
        following = printed_at(score, onset_q + halves * beat_q / 2)
        if following is None or class_of(following.bass) != bass:
            return False
        if following.letters != printed.letters:
            return True
    return False
