"""The curve of `timing` laid over the bars as they are played: one tempo a beat, the same for all parts.

Where a fermata is held or embellished the hold has the word. The end of the piece slows down where its last bars are
played for the last time, whatever bars are asked for, so that an excerpt goes as the whole does.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from appui.exact import Fraction
from appui.perform.beats import beats_of
from appui.perform.model import TempoStep
from appui.perform.sheet import Sheet
from appui.perform.tempo import timed_steps
from appui.perform.timing import END_Q, deviations, ending
from appui.score.model import Score, tempo_in_force
from appui.score.repeats import Occurrence

__all__ = ["Beat", "Pace", "left_after", "pace_of", "paced_tempos"]

#  a beat's length is told in so many parts
_PARTS = 1000
Stretch = tuple[Fraction, Fraction]


class Beat(NamedTuple):
    """A beat of the printed time line, and how much longer it lasts, natural logarithm."""

    onset_q: Fraction
    end_q: Fraction
    longer: float


@dataclass(frozen=True, slots=True)
class Pace:
    """The beats of each bar; how much is left after each of the last bars; what is held, on the printed time line."""

    beats: Mapping[int, Sequence[Beat]]
    left_q: Mapping[int, Fraction]
    held: tuple[Stretch, ...] = ()

    def holding(self, held: Sequence[Stretch]) -> Pace:
        """The same with other holds."""
        return replace(self, held=tuple(held))

    def times(self, beat: Beat, left_q: Fraction | None) -> Fraction:
        """How many times its length a beat lasts; `left_q` is what comes after its bar, `None` far from the end."""
        if any(start_q < beat.end_q and beat.onset_q < end_q for start_q, end_q in self.held):
            return Fraction(1)
        longer = beat.longer + (ending(float(left_q)) if left_q is not None else 0.0)
        return Fraction(round(_PARTS * math.exp(longer)), _PARTS)


def pace_of(sheet: Sheet, order: Sequence[Occurrence]) -> Pace:
    """The pace of a score; `order` is that of the whole piece."""
    beats = beats_of(sheet)
    found: dict[int, list[Beat]] = {}
    for bar, onset_q, end_q, longer in zip(
        beats.bar, beats.exact_q, beats.exact_end_q, deviations(beats).tolist(), strict=True
    ):
        found.setdefault(bar, []).append(Beat(onset_q, end_q, longer))
    return Pace(found, left_after(sheet.score, order))


def left_after(score: Score, order: Sequence[Occurrence]) -> Mapping[int, Fraction]:
    """How many quarters come after each of the last bars, the last time they are played."""
    left: dict[int, Fraction] = {}
    total = Fraction(0)
    for occurrence in reversed(order):
        if total >= END_Q or occurrence.bar in left:
            break
        left[occurrence.bar] = total
        total += score.bars[occurrence.bar].length_q
    return left


def paced_tempos(
    score: Score, order: Sequence[Occurrence], factor: Fraction, shift_q: Fraction, pace: Pace
) -> tuple[TempoStep, ...]:
    """The tempo steps of the performed time line, which starts `shift_q` before the first bar."""
    last = {occurrence.bar: place for place, occurrence in enumerate(order)}
    steps: list[tuple[Fraction, Fraction]] = []
    for place, occurrence in enumerate(order):
        ends = pace.left_q.get(occurrence.bar) if last[occurrence.bar] == place else None
        shift = occurrence.onset_q - score.bars[occurrence.bar].onset_q
        steps += [(at_q + shift, qpm * factor) for at_q, qpm in _bar(score, occurrence.bar, pace, ends)]
    return timed_steps(steps, shift_q)


def _bar(score: Score, bar: int, pace: Pace, ends: Fraction | None) -> Iterator[tuple[Fraction, Fraction]]:
    """Where the tempo of a bar changes, on the printed time line, and to what."""
    end_q = score.bars[bar].onset_q + score.bars[bar].length_q
    onsets = [mark.onset_q for mark in score.tempos]
    for beat in pace.beats.get(bar, ()):
        times = pace.times(beat, ends + end_q - beat.end_q if ends is not None else None)
        yield beat.onset_q, tempo_in_force(score.tempos, beat.onset_q).qpm / times
        for mark in score.tempos[bisect_right(onsets, beat.onset_q) :]:
            if mark.onset_q >= beat.end_q:
                break
            yield mark.onset_q, mark.qpm / times
