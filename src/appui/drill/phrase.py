"""A phrase: the few bars around one sign, to be heard in any key, at any tempo, in any reading.

Only the sign differs between two performances of a phrase: every other note keeps its level (no rise towards a leaning
note), fermatas are not held, and what sounds is cut out of the bars so that it begins and ends at the same moments.

A phrase is moved through the keys by fifths: one up the line of fifths is a fifth up or a fourth down, whichever is
nearer, so C to D flat is five fifths down and a semitone up; letters and accidentals follow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from appui.exact import Fraction
from appui.perform.excerpt import later
from appui.perform.model import Performance, PerformedNote, PerformedPart
from appui.perform.perform import Take, perform
from appui.realize.voice import Tempo, realize_part
from appui.score.model import Event, Score
from appui.score.pitch import Pitch, Transposition, alter_of
from appui.score.repeats import Occurrence
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["Phrase", "Setting", "move_by_fifths", "signed"]

#  what is kept of the bars around the sign, seconds before the main note, and after its end
BEFORE_S, AFTER_S = 2.6, 1.6
_SHORT_S, _HELD_S = 0.05, 0.3


@dataclass(frozen=True)
class Phrase:
    """A sign in its bars (`order`), with the readings of the other signs there by place.

    `chord` are the letters of the chord under it, `bass` its lowest note, `member` whether the small note belongs to
    it; empty and `None` where that is not known. `before_q` is the length of the note before, 0 for none; `factor` the
    tempo asked for, times the written one.
    """

    score: Score
    solo: int
    sign: Sign
    signs: tuple[Sign, ...]
    order: tuple[Occurrence, ...]
    origin: str
    chord: tuple[str, ...] = ()
    bass: Pitch | None = None
    member: bool | None = None
    before_q: Fraction = Fraction(0)
    others: Mapping[str, Reading] = field(default_factory=dict)
    factor: Fraction = Fraction(1)

    @property
    def main(self) -> Event:
        """The main note's event."""
        return self.sign.main(self.score)

    @property
    def qpm(self) -> Fraction:
        """The written tempo there."""
        return Tempo(tuple((mark.onset_q, mark.qpm) for mark in self.score.tempos)).at(self.main.onset_q)

    @property
    def main_s(self) -> float:
        """The main note's length at the written tempo, seconds."""
        return float(self.main.duration_q * 60 / self.qpm)

    @property
    def before_s(self) -> float:
        """The length of the note before, seconds."""
        return float(self.before_q * 60 / self.qpm)

    @property
    def fifths(self) -> int:
        """The key of the solo as it sounds, on the line of fifths."""
        part = self.score.parts[self.solo]
        at = part.transposition_at(self.main.onset_q).sounding(Pitch("C", 0, 4))
        turn = "FCGDAEB".index(at.step) - 1 + 7 * int(at.alter)
        return part.key_at(self.main.onset_q).fifths + turn


def move_by_fifths(fifths: int) -> Transposition:
    """The nearest move that changes the key by so many fifths.

    >>> move_by_fifths(1), move_by_fifths(-5)
    (Transposition(diatonic=-3, chromatic=-5), Transposition(diatonic=1, chromatic=1))
    """
    chromatic = 7 * fifths - 12 * round(7 * fifths / 12)
    octaves = (7 * fifths - chromatic) // 12
    return Transposition(4 * fifths - 7 * octaves, chromatic)


def signed(performance: Performance, sign: Sign) -> tuple[PerformedNote, PerformedNote]:
    """The small note and its main note in a performance of a single small note."""
    solo = next(part for part in performance.parts if part.solo)
    small = next(n for n in solo.notes if n.sign == sign.place and n.role not in ("main", "release"))
    return small, next(note for note in solo.notes if note.onset_s > small.onset_s)


@dataclass(frozen=True)
class Setting:
    """A phrase in a key (so many `fifths` from its own) and at a tempo (`factor` times the written one)."""

    phrase: Phrase
    fifths: int = 0
    factor: Fraction = Fraction(1)

    @property
    def main_ms(self) -> float:
        """The main note's length, milliseconds."""
        return 1000 * self.phrase.main_s / float(self.factor)

    @property
    def small(self) -> Pitch:
        """The small note as it sounds here; a trill has none."""
        return self._moved(self.phrase.sign.small[0].sounding[0])

    @property
    def main(self) -> Pitch:
        """The main note as it sounds here."""
        return self._moved(self.phrase.main.notes[self.phrase.sign.note].sounding)

    @property
    def bass(self) -> Pitch | None:
        """The bass as it sounds here."""
        return self._moved(self.phrase.bass) if self.phrase.bass else None

    @property
    def chord(self) -> tuple[str, ...]:
        """The letters of the chord here."""
        near = (Pitch(letter[0], alter_of(letter), 4) for letter in self.phrase.chord)
        return tuple(self._moved(pitch).letter for pitch in near)

    def _moved(self, pitch: Pitch) -> Pitch:
        return move_by_fifths(self.fifths).sounding(pitch)

    def perform(self, reading: Reading) -> Performance:
        """The phrase with its sign in this reading."""
        phrase = self.phrase
        score, tempo = phrase.score, Tempo(tuple((m.onset_q, m.qpm * self.factor) for m in phrase.score.tempos))
        readings = {**phrase.others, phrase.sign.place: reading}
        tones = {
            part.index: realize_part(score, part.index, phrase.signs, readings, phrase.order, tempo).tones
            for part in score.parts
        }
        whole = perform(Take(score, phrase.order, tones, self.factor, phrase.solo, approach_db=0.0))
        return self._in_key(self._cut(whole))

    def _cut(self, whole: Performance) -> Performance:
        """What sounds from a little before the sign to a little after it, on a time line from 0."""
        first = self.phrase.score.bars[self.phrase.order[0].bar]
        main_q = self.phrase.main.onset_q - first.onset_q + whole.lead_q
        main_s = whole.seconds(main_q)
        end_s = main_s + self.main_ms / 1000 + AFTER_S
        solo = next(part for part in whole.parts if part.solo)
        # it begins with a note of the solo that no reading moves; a note longer than that is struck later
        earliest_s = max(main_s - BEFORE_S, 0.0)
        others = (note.onset_s for note in solo.notes if note.sign != self.phrase.sign.place)
        begins = [onset_s for onset_s in others if earliest_s <= onset_s < main_s]
        start_s = min(begins, default=earliest_s)
        parts = tuple(_between(part, start_s, end_s) for part in whole.parts)
        length_s = max(note.onset_s + note.duration_s for part in parts for note in part.notes) - start_s
        moved = later(replace(whole, parts=parts), Fraction(0), -start_s)
        step = moved.tempos[0]._replace(onset_q=Fraction(0), onset_s=0.0)
        return replace(moved, tempos=(step,), marks=(), length_s=length_s, lead_q=Fraction(0))

    def _in_key(self, performance: Performance) -> Performance:
        move = move_by_fifths(self.fifths)
        return replace(performance, parts=tuple(_moved_part(part, move) for part in performance.parts))


def _between(part: PerformedPart, start_s: float, end_s: float) -> PerformedPart:
    """The notes of a stretch, stopped at its end; those that sound on into it begin with it."""
    notes = []
    for note in part.notes:
        stop_s = min(note.onset_s + note.duration_s, end_s)
        begin_s = max(note.onset_s, start_s)
        if (note.onset_s >= start_s and begin_s < end_s - _SHORT_S) or (not part.solo and stop_s > start_s + _HELD_S):
            notes.append(note._replace(onset_s=begin_s, duration_s=stop_s - begin_s))
    return replace(part, notes=tuple(notes), controls=tuple(c for c in part.controls if start_s <= c.onset_s < end_s))


def _moved_part(part: PerformedPart, move: Transposition) -> PerformedPart:
    if part.percussion or not move.chromatic:
        return part
    notes = tuple(
        note._replace(pitch=move.sounding(note.pitch), key=min(max(note.key + int(move.chromatic), 0), 127))
        for note in part.notes
    )
    return replace(part, notes=notes)
