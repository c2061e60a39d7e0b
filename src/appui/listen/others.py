"""Where the others begin in a full recording: further points of the beat, beside the solo's own plain notes.

Only a key tells that did not sound before and that the solo has not then. Each is looked for around where the solo's
plain notes have the beat. What all of them are late by, in the middle, is their instruments' way of speaking and the
players' habit, and is taken off: the beat stays the solo's own pulse.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from appui.listen.beat import Beat, Point, beats_at, habit_of
from appui.listen.frames import BINS, FRAME_S
from appui.listen.full import Slice
from appui.listen.heard import HeardLine
from appui.listen.judge import plain_points
from appui.listen.line import Line
from appui.listen.onsets import risen_at, shares_of
from appui.listen.spectra import guessed

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Recording", "points_of_others"]

#  players scatter around one another by so much, as far as it can be heard (s)
_SCATTER_S = 0.02
#  what is farther from where the beat is expected is something else (s); fewer have no habit
_FARTHEST_S, _FEWEST = 0.1, 4
#  frames looked at before and after where a note is expected
_BEFORE, _AFTER = 60, 80


class Recording(NamedTuple):
    """The samples of all the players, and how they are tuned."""

    samples: NDArray[np.floating]
    a4_hz: float


def points_of_others(line: Line, heard: HeardLine, slices: Sequence[Slice], recording: Recording) -> list[Point]:
    """The beats that the others tell, where they begin together or alone."""
    points = plain_points(line, heard, changed=True)
    habit = habit_of(points)
    begun_s = [step.nominal_s for step in line.steps]
    stretches = [line.steps[max(bisect_right(begun_s, each.nominal_s) - 1, 0)].stretch for each in slices]
    expected = beats_at([each.nominal_s for each in slices], stretches, points, habit)
    found = [
        (Point(slices[number].nominal_s, begins_s, stretches[number]), begins_s - expected[number].at_s)
        for number, begins_s in _found(slices, expected, recording)
    ]
    if len(found) < _FEWEST:
        return []
    late_s = median(away_s for _, away_s in found)
    doubt = max(_SCATTER_S / habit.scatter_s, 1.0)
    return [
        point._replace(played_s=point.played_s - late_s, doubt=doubt)
        for point, away_s in found
        if abs(away_s - late_s) < _FARTHEST_S
    ]


def _found(slices: Sequence[Slice], expected: Sequence[Beat], recording: Recording) -> Iterator[tuple[int, float]]:
    """The numbers of slices in which others begin, and when they do, s: the middle of those that are heard."""
    for number in range(1, len(slices)):
        if math.isfinite(expected[number].spread_s) and (keys := _telling(slices, number)):
            moments = _risen_s(slices[number - 1 : number + 2], keys, expected[number].at_s, recording)
            if moments:
                yield number, median(moments)


def _telling(slices: Sequence[Slice], number: int) -> list[int]:
    """The others' keys that begin with a slice, sound in no other part of it and did not sound before."""
    solo = {key for each in slices[number - 1 : number + 2] for key in each.solo}
    return sorted(slices[number].others - slices[number - 1].others - solo)


def _risen_s(around: Sequence[Slice], keys: Sequence[int], expected_s: float, recording: Recording) -> list[float]:
    """When each of some keys rises among all that sound around, s; those that are not heard are left out."""
    at = round(expected_s / FRAME_S)
    first = max(at - _BEFORE, 0)
    known = sorted({key for each in around for key in each.solo | each.others})
    shares = shares_of(recording, guessed(known, BINS), first, at + _AFTER)
    found = [risen_at(shares[known.index(key)], at - first) for key in keys]
    return [(first + each) * FRAME_S for each in found if not math.isnan(each)]
