"""The texture: everything that sounds at full size, as arrays, and the slices the harmony is read in.

Small notes, cue notes and hidden notes are no evidence, nor is percussion. Times here are floats of a quarter note:
this room weighs, it does not place. Slices are halves of the beat (thirds in compound meters), or whole beats; none
crosses a barline.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.score.model import Event, Score

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Slices", "Texture", "slices_of", "texture_of"]

_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


class Texture(NamedTuple):
    """One entry a note: `onset`.

    `end` (quarters), `midi`, `fifth` (place on the line of fifths, C = 0), `part`, `lone`.

    `passing` marks short notes that step in and out; `where` gives (part, voice, event, note) for the evidence.
    """

    onset: Floats
    end: Floats
    midi: Ints
    fifth: Ints
    part: Ints
    passing: NDArray[np.bool_]
    where: tuple[tuple[int, int, int, int], ...]


class Slices(NamedTuple):
    """Slice boundaries: slice i is from `start[i]` to `end[i]`.

    `strong[i]` where it begins a beat, `bar[i]` its bar.
    """

    start: Floats
    end: Floats
    strong: NDArray[np.bool_]
    bar: Ints

    def at(self, onset: float) -> int:
        """The slice that holds a moment."""
        return int(np.clip(np.searchsorted(self.start, onset + 1e-6) - 1, 0, len(self.start) - 1))


def _fifth(step: str, alter: int | Fraction) -> int:
    return _FIFTHS[step] + 7 * round(alter)


def texture_of(score: Score) -> Texture:
    """The arrays of a score."""
    rows: list[tuple[float, float, int, int, int, bool]] = []
    where: list[tuple[int, int, int, int]] = []
    for part in score.parts:
        if part.percussion:
            continue
        for voice_index, voice in enumerate(part.voices):
            events = voice.events
            for index, event in enumerate(events):
                if not event.notes:
                    continue
                onset, end = float(event.onset_q), float(event.end_q)
                steps = event.duration_q <= _SHORT and len(event.notes) == 1 and _steps_through(events, index)
                for place, note in enumerate(event.notes):
                    if not (note.hidden or note.cue or note.unpitched):
                        rows.append(
                            (
                                onset,
                                end,
                                round(note.sounding.midi),
                                _fifth(note.sounding.step, note.sounding.alter),
                                part.index,
                                steps,
                            )
                        )
                        where.append((part.index, voice_index, index, place))
    columns = list(zip(*rows, strict=True)) if rows else [()] * 6
    return Texture(
        np.array(columns[0], float),
        np.array(columns[1], float),
        np.array(columns[2], np.int64),
        np.array(columns[3], np.int64),
        np.array(columns[4], np.int64),
        np.array(columns[5], bool),
        tuple(where),
    )


_SHORT = Fraction(1, 2)


def _steps_through(events: tuple[Event, ...], index: int) -> bool:
    if not 0 < index < len(events) - 1:
        return False
    before, here, after = events[index - 1], events[index], events[index + 1]
    if not before.notes or not after.notes:
        return False
    main = here.notes[0].sounding.diatonic
    return abs(before.top.sounding.diatonic - main) == 1 and abs(after.top.sounding.diatonic - main) == 1


def slices_of(score: Score, *, whole_beats: bool = False) -> Slices:
    """The slices of a score: parts of a beat, or beats."""
    start: list[float] = []
    end: list[float] = []
    strong: list[bool] = []
    bars: list[int] = []
    for bar in score.bars:
        parts = 1 if whole_beats else (3 if bar.meter.compound else 2)
        step = float(bar.meter.beat_q) / parts
        base, length, lead = float(bar.onset_q), float(bar.length_q), float(bar.lead_q)
        count = 0
        at = -(lead % step)
        while at < length - 1e-6 and count < 4096:
            start.append(base + max(at, 0.0))
            end.append(base + min(at + step, length))
            strong.append(round((at + lead) / step) % parts == 0)
            bars.append(bar.index)
            at += step
            count += 1
    return Slices(np.array(start), np.array(end), np.array(strong, bool), np.array(bars, np.int64))
