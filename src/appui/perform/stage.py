"""A stage: the solo in the middle, the others from left to right in the order of the score.

Players are heard apart more easily where they sit apart; the order of the score, high to low, is how string players sit
from left to right (common practice, no source). Nobody sits at the edge, so each is heard by both ears, and the room,
one reverb for all, is the same as without a stage. A single accompanist sits a little to the right.
"""

from __future__ import annotations

from dataclasses import replace

from appui.perform.model import Performance

__all__ = ["EDGE", "MIDDLE", "on_stage"]

MIDDLE = 64
#  how far from the middle the outermost sit, of 63: a design choice
EDGE = 42


def on_stage(performance: Performance) -> Performance:
    """The same performance, each part at its place; solos and percussion in the middle."""
    others = [number for number, part in enumerate(performance.parts) if not (part.solo or part.percussion)]
    pans = dict(zip(others, _places(len(others)), strict=True))
    parts = (replace(part, pan=pans.get(number, MIDDLE)) for number, part in enumerate(performance.parts))
    return replace(performance, parts=tuple(parts))


def _places(count: int) -> list[int]:
    """So many places from left to right, as MIDI's pan (CC 10, 64 in the middle).

    >>> _places(3), _places(1)
    ([22, 64, 106], [85])
    """
    if count == 1:
        return [MIDDLE + EDGE // 2]
    return [MIDDLE - EDGE + round(2 * EDGE * number / (count - 1)) for number in range(count)]
