"""The movements of a score: where bar numbers begin again, as files of several movements have them.

A movement begins at the first bar, and wherever the number of a bar is at most 1 and below that of the bar before it.
Bars without a number of their own (a pickup, the second half of a divided bar) belong to what follows or goes before.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import NamedTuple

from appui.score.model import Score

__all__ = ["Movement", "movement_of", "movements"]


class Movement(NamedTuple):
    """One movement: its number from 1, its first and last bar by index (inclusive)."""

    number: int
    first: int
    last: int


def movements(score: Score) -> tuple[Movement, ...]:
    """The movements in order; a score that is one piece has one."""
    numbers = [_number(bar.number) for bar in score.bars]
    starts, seen = [0], numbers[0] if numbers else None
    for index in range(1, len(numbers)):
        number = numbers[index]
        if number is None:
            continue
        if number <= 1 and seen is not None and seen > 1:
            starts.append(index)
        seen = number
    ends = [*(start - 1 for start in starts[1:]), len(numbers) - 1]
    return tuple(Movement(count, first, last) for count, (first, last) in enumerate(zip(starts, ends, strict=True), 1))


def _number(text: str) -> int | None:
    match = re.fullmatch(r"\s*(\d{1,6})\s*", text)
    return int(match[1]) if match else None


def movement_of(found: tuple[Movement, ...], bar: int) -> Movement:
    """The movement that a bar, by index, lies in."""
    return found[bisect_right([each.first for each in found], bar) - 1]
