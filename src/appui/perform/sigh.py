"""The sigh: how much a leaning note weighs over its release, by how long it lasts and what follows.

Measured in 509 performances of Haydn, Beethoven, Bach and R. Schumann by pianists of today ((n)ASAP, dB = 40 log10 of
the velocity; medians): printed leaning notes in the upper voice that step down, over their release, 0.2 dB where they
last under 250 ms, 0.7 from 250 to 400, 1.7 from 400 to 700, 3.1 beyond, where the release ends a slur or stands before
a rest; elsewhere 0.2 to 1.0. The release is held 52 % of its length where it ends the slur and the leaning note lasts
300 ms or more, the leaning note 104 %.

C.P.E. Bach (1753, 2.2 §7, read) asks for more weight on every leaning note; the 4 dB this tool took from there are for
teaching and are still to be had (``--weight 4``). A style that asks for twice as much or half as much as those 4 dB is
given twice or half of what is measured.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

__all__ = ["HELD_RELEASE", "LEAST_S", "LONGEST_RELEASE_S", "TAUGHT_DB", "sigh_db"]

#   seconds, dB: through the middles of the measured classes
_ENDS = ((0.15, 0.0), (0.25, 0.3), (0.5, 1.5), (0.75, 3.1))
_GOES_ON = ((0.25, 0.0), (0.55, 0.4), (0.75, 1.0))
TAUGHT_DB = 4.0
#  the release is short after a leaning note of so long, and not where it would leave a hole: a design choice
HELD_RELEASE, LEAST_S, LONGEST_RELEASE_S = 0.52, 0.3, 1.2


def sigh_db(length_s: float, *, ends: bool) -> float:
    """The weight of a leaning note of so many seconds; `ends`: its release ends a slur or stands before a rest.

    >>> [round(sigh_db(length_s, ends=True), 1) for length_s in (0.1, 0.25, 0.5, 1.0)]
    [0.0, 0.3, 1.5, 3.1]
    """
    return _between(_ENDS if ends else _GOES_ON, length_s)


def _between(points: Sequence[tuple[float, float]], at: float) -> float:
    place = bisect_right(points, at, key=lambda point: point[0])
    if place == 0 or place == len(points):
        return points[max(place - 1, 0)][1]
    (low, first), (high, last) = points[place - 1], points[place]
    return first + (last - first) * (at - low) / (high - low)
