"""The texture: everything that sounds at full size, as arrays, and the slices the harmony is read in.

Small notes, cue notes and hidden notes are no evidence, nor is percussion. Times here are floats of a quarter note:
this room weighs, it does not place. Slices are halves of the beat (thirds in compound meters), or whole beats; none
crosses a barline.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.score.model import Event, Part, Score

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Slices", "Texture", "slices_of", "texture_of"]

_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_SHORT_Q = 0.5 + 1e-6
# a file can claim a bar of any length; more slices than this are no music
_MOST_SLICES = 512


class Texture(NamedTuple):
    """One entry a note: `onset` and `end` in quarters, `midi`, `fifth` (place on the line of fifths, C = 0).

    `passing` marks short notes that step in and out, `held` notes tied from the one before; `where` gives (part,
    voice, event, note) for the evidence.
    """

    onset: Floats
    end: Floats
    midi: Ints
    fifth: Ints
    passing: Flags
    held: Flags
    where: tuple[tuple[int, int, int, int], ...]

    def only(self, notes: Ints) -> Texture:
        """The same with some of the notes, without their places."""
        return Texture(
            self.onset[notes],
            self.end[notes],
            self.midi[notes],
            self.fifth[notes],
            self.passing[notes],
            self.held[notes],
            (),
        )


class Slices(NamedTuple):
    """Slice boundaries: slice i is from `start[i]` to `end[i]`, in bar `bar[i]`."""

    start: Floats
    end: Floats
    bar: Ints

    def at(self, onset: float) -> int:
        """The slice that holds a moment."""
        return int(np.clip(np.searchsorted(self.start, onset + 1e-6) - 1, 0, len(self.start) - 1))


_Row = tuple[float, float, int, int, bool, bool, tuple[int, int, int, int]]


def texture_of(score: Score) -> Texture:
    """The arrays of a score."""
    rows = [row for part in score.parts if not part.percussion for row in _rows(part)]
    onset, end, midi, fifth, passing, held, where = zip(*rows, strict=True) if rows else ((),) * 7
    return Texture(
        np.array(onset, float),
        np.array(end, float),
        np.array(midi, np.int64),
        np.array(fifth, np.int64),
        np.array(passing, bool),
        np.array(held, bool),
        where,
    )


def _rows(part: Part) -> Iterator[_Row]:
    for voice_index, voice in enumerate(part.voices):
        for index, event in enumerate(voice.events):
            if not event.notes:
                continue
            onset, end = float(event.onset_q), float(event.end_q)
            steps = end - onset <= _SHORT_Q and len(event.notes) == 1 and _steps_through(voice.events, index)
            for place, note in enumerate(event.notes):
                if not (note.hidden or note.cue or note.unpitched):
                    pitch = note.sounding
                    fifth = _FIFTHS[pitch.step] + 7 * round(pitch.alter)
                    where = (part.index, voice_index, index, place)
                    yield onset, end, round(pitch.midi), fifth, steps, note.tied_back, where


def _steps_through(events: tuple[Event, ...], index: int) -> bool:
    if not 0 < index < len(events) - 1:
        return False
    before, here, after = events[index - 1], events[index], events[index + 1]
    if not before.notes or not after.notes:
        return False
    main = here.notes[0].sounding.diatonic
    return abs(_top(before) - main) == 1 and abs(_top(after) - main) == 1


def _top(event: Event) -> int:
    return event.notes[0].sounding.diatonic if len(event.notes) == 1 else event.top.sounding.diatonic


def slices_of(score: Score, *, whole_beats: bool = False) -> Slices:
    """The slices of a score: parts of a beat, or beats."""
    start: list[float] = []
    end: list[float] = []
    bars: list[int] = []
    for bar in score.bars:
        parts = 1 if whole_beats else (3 if bar.meter.compound else 2)
        step = float(bar.meter.beat_q) / parts
        base, length, lead = float(bar.onset_q), float(bar.length_q), float(bar.lead_q)
        first = -(lead % step)
        count = min(int(np.ceil((length - first) / step - 1e-6)), _MOST_SLICES)
        for place in range(count):
            at = first + place * step
            start.append(base + max(at, 0.0))
            end.append(base + min(at + step, length))
            bars.append(bar.index)
    return Slices(np.array(start), np.array(end), np.array(bars, np.int64))
