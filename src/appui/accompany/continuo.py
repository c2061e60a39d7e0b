"""From a figured bass part to the chords over it.

Which notes bear a chord of their own (common practice, no source): every note with figures; unfigured notes on a beat,
and those off the beat that neither pass by step nor belong to the chord that sounds. Under dashes, ties and passing
notes the chord is held. Where figures stand in the bar or the one beside it the bass counts as figured, and a note
without any bears a triad (a sixth where the fifth would be diminished); elsewhere the rule of the octave is followed in
the local key. Several figures under one note follow each other by their durations, as MusicXML 4.0 has it (read).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from appui.accompany.chord import Chord
from appui.accompany.figured_bass import tones_of
from appui.accompany.octave import octave_steps
from appui.exact import Fraction
from appui.harmony.figured_bass import Step, figures_for, holds_on, rows_under, steps_of
from appui.harmony.places import letter_place, place_of, step_letter
from appui.score.model import Event, Figure, FiguredBass, Part, Score
from appui.score.pitch import Pitch

__all__ = ["BassNote", "LocalKey", "bass_notes", "continuo_chords"]

#  tonic on the line of fifths, minor or not: one a bar, as `appui.harmony.keys` gives them
LocalKey = tuple[int, bool]


@dataclass(frozen=True, slots=True)
class BassNote:
    """One struck bass note, ties added up, with its figures: (from, until, figures), none where it has none."""

    onset_q: Fraction
    end_q: Fraction
    pitch: Pitch
    figures: tuple[tuple[Fraction, Fraction, tuple[Figure, ...]], ...] = ()


class _Span(NamedTuple):
    """A stretch over one bass note with one row of figures."""

    onset_q: Fraction
    end_q: Fraction
    note: BassNote
    figures: tuple[Figure, ...]
    then_six: bool


def bass_notes(part: Part) -> list[BassNote]:
    """The lowest line of a part, ties joined, with the figures under each note."""
    events = sorted((e for v in part.voices for e in v.events if e.notes), key=lambda e: (e.onset_q, _lowest(e).midi))
    notes: list[BassNote] = []
    for event in events:
        pitch = _lowest(event)
        if notes and event.onset_q < notes[-1].end_q:
            continue
        tied = min(event.notes, key=lambda note: note.sounding.midi).tied_back
        if notes and tied and notes[-1].pitch == pitch and notes[-1].end_q == event.onset_q:
            notes[-1] = replace(notes[-1], end_q=event.end_q)
        else:
            notes.append(BassNote(event.onset_q, event.end_q, pitch))
    return [replace(note, figures=tuple(rows_under(part.figures, note.onset_q, note.end_q))) for note in notes]


def _lowest(event: Event) -> Pitch:
    return min((note.sounding for note in event.notes), key=lambda pitch: pitch.midi)


def continuo_chords(score: Score, part: Part, keys: Sequence[LocalKey]) -> tuple[list[Chord], tuple[FiguredBass, ...]]:
    """The chords over a figured bass, and all its figures with those that were supplied.

    `keys` has the local key of each bar.
    """
    return _Reader(score, part, keys).read()


class _Reader:
    """Goes along the bass once."""

    def __init__(self, score: Score, part: Part, keys: Sequence[LocalKey]) -> None:
        self.score, self.part, self.keys = score, part, keys
        self.notes = bass_notes(part)
        self.figured_bars = {score.bar_at(entry.onset_q).index for entry in part.figures}
        self.chords: list[Chord] = []
        self.supplied: list[FiguredBass] = []

    def read(self) -> tuple[list[Chord], tuple[FiguredBass, ...]]:
        """All chords; figures printed and supplied, in order of time."""
        for index, note in enumerate(self.notes):
            spans = self._spans(note)
            for span in spans:
                if self._holds(span, index):
                    self._hold(span)
                else:
                    self._strike(span, index)
        figures = sorted((*self.part.figures, *self.supplied), key=lambda entry: entry.onset_q)
        return self.chords, tuple(figures)

    def _spans(self, note: BassNote) -> list[_Span]:
        rows = list(note.figures)
        first = rows[0][0] if rows else note.end_q
        if first > note.onset_q:
            rows.insert(0, (note.onset_q, first, ()))
        following = [row for _, _, row in rows[1:]] + [()]
        return [
            _Span(start, end, note, row, any(f.number == "6" for f in after))
            for (start, end, row), after in zip(rows, following, strict=True)
        ]

    def _holds(self, span: _Span, index: int) -> bool:
        if not self.chords or self.chords[-1].end_q != span.onset_q:
            return False
        if span.figures:
            return holds_on(span.figures)
        bar = self.score.bar_at(span.onset_q)
        off_beat = (span.onset_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q != 0
        short = span.note.end_q - span.note.onset_q < bar.meter.beat_q
        return off_beat and short and (self._belongs(span.note) or self._passes(index))

    def _belongs(self, note: BassNote) -> bool:
        chord = self.chords[-1]
        return place_of(note.pitch) in {*chord.places, place_of(chord.bass)}

    def _passes(self, index: int) -> bool:
        if not 0 < index < len(self.notes) - 1:
            return False
        here = self.notes[index].pitch.diatonic
        beside = (self.notes[index - 1].pitch.diatonic, self.notes[index + 1].pitch.diatonic)
        return all(abs(here - other) <= 1 for other in beside)

    def _hold(self, span: _Span) -> None:
        chord = self.chords[-1]
        self.chords[-1] = chord._replace(end_q=span.end_q, leaving=span.note.pitch)
        if not span.figures and span.note.pitch != chord.bass:
            self._supply(span, sorted({*(tone.place for tone in chord.tones), place_of(chord.bass)}))

    def _strike(self, span: _Span, index: int) -> None:
        bar, pitch = self.score.bar_at(span.onset_q), span.note.pitch
        tonic, minor = self.keys[bar.index]
        steps = self._steps(span, index, tonic, minor=minor)
        tones = tones_of(steps, pitch, tonic + 5)
        self.chords.append(Chord(span.onset_q, span.end_q, pitch, tones, pitch))
        if not span.figures:
            self._supply(span, [tone.place for tone in tones])

    def _steps(self, span: _Span, index: int, tonic: int, *, minor: bool) -> tuple[Step, ...]:
        pitch = span.note.pitch
        if span.figures:
            return steps_of(span.figures, pitch, self._alter(span.onset_q), then_six=span.then_six)
        if self._is_figured(span.onset_q):
            steps = steps_of((), pitch, self._alter(span.onset_q))
            fifth = next(step for step in steps if step.number == 5)
            perfect = letter_place(step_letter(pitch, 5)) + 7 * fifth.alter == place_of(pitch) + 1
            return steps if perfect else steps_of((Figure("6"),), pitch, self._alter(span.onset_q))
        after = self.notes[index + 1] if index + 1 < len(self.notes) else None
        joined = after.pitch if after and after.onset_q == span.note.end_q else None
        return octave_steps(pitch, joined, tonic, minor=minor)

    def _is_figured(self, onset_q: Fraction) -> bool:
        bar = self.score.bar_at(onset_q).index
        return any(index in self.figured_bars for index in (bar - 1, bar, bar + 1))

    def _alter(self, onset_q: Fraction) -> _Alter:
        return _Alter(self.part, onset_q)

    def _supply(self, span: _Span, places: Sequence[int]) -> None:
        # a plain triad is said too: a bass note without figures says nothing of its chord
        figures = figures_for(places, span.note.pitch, self._alter(span.onset_q)) or (Figure("5"),)
        self.supplied.append(FiguredBass(span.onset_q, span.end_q - span.onset_q, figures))


class _Alter:
    """What the key signature in force does to a letter, as it sounds."""

    def __init__(self, part: Part, onset_q: Fraction) -> None:
        self._key = part.key_at(onset_q)

    def __call__(self, letter: str) -> int:
        return self._key.alter(letter)
