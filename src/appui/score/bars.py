"""Bars as a player names them, by the numbers that are printed, and the order in which they are played."""

from __future__ import annotations

import re
from collections.abc import Sequence

from appui.errors import PlaceError, UsageError
from appui.score.model import Score
from appui.score.repeats import Occurrence, once, unfold
from appui.score.signs import bar_names

__all__ = ["bar_range", "play_order"]


def bar_range(score: Score, wanted: str | None) -> tuple[int, int]:
    """First and last bar index (inclusive) of a range such as ``5-12``, by printed numbers; all bars for `None`.

    Raises `UsageError` for words that are no range, `PlaceError` for bars that the score does not have.
    """
    if wanted is None:
        return 0, len(score.bars) - 1
    names = bar_names(score)
    match = re.fullmatch(r"\s*([^-\s]+)\s*(?:-\s*([^-\s]+)\s*)?", wanted)
    if not match:
        raise UsageError(f"bars {wanted!r} is neither a bar such as 5 nor a range such as 5-12")
    first, last = match.group(1), match.group(2) or match.group(1)
    for name in (first, last):
        if name not in names:
            raise PlaceError(
                score.file,
                f"has no bar {name!r}; its bars are {names[0]} to {names[-1]}",
                "name bars as they are printed",
            )
    low, high = names.index(first), names.index(last)
    if low > high:
        raise PlaceError(score.file, f"bars {wanted}: bar {first} comes after bar {last}", f"write {last}-{first}")
    return low, high


def play_order(score: Score, bars: str | None, *, repeats: bool) -> Sequence[Occurrence]:
    """The bars in the order they are played: a range once, as printed; the whole with its repeats or without."""
    if bars is not None:
        return once(score.bars, *bar_range(score, bars))
    return unfold(score.bars) if repeats else once(score.bars)
