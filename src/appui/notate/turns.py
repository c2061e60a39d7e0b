"""Where the pages of a part end: at a rest long enough to turn, wherever a page is turned.

A part begins on a right-hand page, so the page is turned after the first, the third and so on; the second and third lie
open together. A page that is turned may end early, up to a third of it left empty, to end at the better rest
(choices of ours). Lengths of pages are in the engraver's units.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Part, Score

__all__ = ["TURN_S", "System", "page_end", "silences_s"]

#  a turn in this time is no haste; one in less than the second is none
TURN_S, _HASTE_S = 2.0, 1.0
_FULL = 0.65


class System(NamedTuple):
    """A line of music: first and last drawn bar, by index, and where its staff stands on a page without end."""

    first: int
    last: int
    top: float


def silences_s(score: Score, part: Part) -> list[float]:
    """For each bar, how many seconds of rest lie around its end: the end of this one, the beginning of the next.

    The end of the last bar is no place to turn: 0.
    """
    sounding = sorted((e.onset_q, e.end_q) for voice in part.voices for e in voice.events if e.notes)
    ends = [bar.onset_q + bar.length_q for bar in score.bars]
    found, index, reach_q = [], 0, Fraction(0)
    for bar, end_q in zip(score.bars, ends, strict=True):
        while index < len(sounding) and sounding[index][0] < end_q:
            reach_q = max(reach_q, sounding[index][1])
            index += 1
        following_q = sounding[index][0] if index < len(sounding) else ends[-1]
        rest_q = max(following_q - max(reach_q, Fraction(0)), Fraction(0)) if reach_q <= end_q else Fraction(0)
        found.append(float(rest_q * 60 / score.tempo_at(bar.onset_q).qpm))
    return [*found[:-1], 0.0]


def page_end(
    systems: Sequence[System], room: float, rest_s: Callable[[int], float], *, turned: bool
) -> tuple[int, bool]:
    """The last drawn bar of a page that begins with these systems, and whether it can be turned there.

    `room` is how far below the first system's staff the last one's may stand. `rest_s` gives the seconds of rest after
    a drawn bar.
    """
    fitting = [system for system in systems if system.top - systems[0].top <= room] or list(systems[:1])
    last = fitting[-1].last
    if last == systems[-1].last or not turned:
        return last, True
    least = systems[0].top + room * _FULL
    early = next((system.first for system in fitting if system.top >= least), fitting[-1].first)
    best = max(range(min(early, last), last + 1), key=lambda bar: (min(rest_s(bar), TURN_S), bar))
    return (best, True) if rest_s(best) >= _HASTE_S else (last, False)
