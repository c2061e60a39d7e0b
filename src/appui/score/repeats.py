"""The order in which bars are played: repeats, endings, da capo and dal segno.

Conventions: passes are counted from 1. A backward repeat without a forward one goes back to the start of its
movement, or to the bar after the last section that was played through. After a leap (da capo, dal segno) repeats are
not taken again, as is the custom (common practice, no source); last endings are taken then. Nothing leads back into
another movement.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Bar

__all__ = ["Occurrence", "once", "unfold"]


class Occurrence(NamedTuple):
    """One playing of a bar: its index, where it starts on the performed time line, and which time it is."""

    bar: int
    onset_q: Fraction
    turn: int


def once(bars: Sequence[Bar], first: int = 0, last: int | None = None) -> tuple[Occurrence, ...]:
    """Bars `first` to `last` (inclusive indices), every one once, as printed; time starts at 0 with the first."""
    stop = len(bars) if last is None else last + 1
    return _placed(bars, range(first, stop))


def unfold(bars: Sequence[Bar]) -> tuple[Occurrence, ...]:
    """All bars in the order a player takes them."""
    return _placed(bars, _order(bars))


def _placed(bars: Sequence[Bar], order: Iterable[int]) -> tuple[Occurrence, ...]:
    turns: dict[int, int] = {}
    placed: list[Occurrence] = []
    onset_q = Fraction(0)
    for index in order:
        turns[index] = turns.get(index, 0) + 1
        placed.append(Occurrence(index, onset_q, turns[index]))
        onset_q += bars[index].length_q
    return tuple(placed)


class _Walker:
    """Where the player is in the road map of one movement, from one bar to before another."""

    def __init__(self, bars: Sequence[Bar], first: int, stop: int) -> None:
        self.bars, self.first, self.stop = bars, first, stop
        self.at = first
        self.section = first  # where a backward repeat goes back to
        self.turn = 1
        self.leapt = False
        self.to_coda = False
        self.done: set[int] = set()  # backward repeats already played out
        self.order: list[int] = []

    def run(self) -> list[int]:
        # no road map of this size is music: 60 times the printed length is a knot, not a repeat
        limit = 60 * (self.stop - self.first) + 60
        while self.at < self.stop and len(self.order) < limit:
            self.step()
        return self.order

    def step(self) -> None:
        bar = self.bars[self.at]
        if bar.repeat_forward and self.section != self.at:
            self.section, self.turn = self.at, 1
        if self._skips(bar):
            self.at += 1
            return
        self.order.append(self.at)
        self._leave(bar)

    def _skips(self, bar: Bar) -> bool:
        if not bar.endings:
            return False
        wanted = bar.endings[0].passes
        if self.leapt:
            return not self._last_ending(bar)
        return self.turn not in wanted

    def _last_ending(self, bar: Bar) -> bool:
        following = self.bars[bar.index + 1 : self.stop]
        later = next((b for b in following if not b.endings or b.endings[0] != bar.endings[0]), None)
        return later is None or not later.endings

    def _leave(self, bar: Bar) -> None:
        kinds = {jump.kind for jump in bar.jumps}
        if bar.repeat_backward and self._goes_back(bar):
            self.turn += 1
            self.at = self.section
            return
        if self.leapt and "fine" in kinds:
            self.at = self.stop
            return
        if self.leapt and self.to_coda and "tocoda" in kinds:
            self.at = self._target("coda", bar.index, after=True)
            return
        leap = next((kind for kind in ("dacapo", "dalsegno") if kind in kinds), None)
        if leap and not self.leapt:
            self._leap(leap, bar)
            return
        self._go_on(bar)

    def _go_on(self, bar: Bar) -> None:
        if bar.repeat_backward:
            self.section, self.turn = bar.index + 1, 1
        self.at += 1

    def _goes_back(self, bar: Bar) -> bool:
        if self.leapt or bar.index in self.done:
            return False
        if self.turn >= self._times(bar):
            self.done.add(bar.index)
            return False
        return True

    def _times(self, bar: Bar) -> int:
        """How often the section is played: as the repeat says, or as its endings count."""
        passes = [p for ending in self._endings_around(bar) for p in ending]
        return max([bar.repeat_backward, *passes]) if bar.endings else bar.repeat_backward

    def _endings_around(self, bar: Bar) -> list[tuple[int, ...]]:
        found: list[tuple[int, ...]] = []
        index = bar.index
        while index < self.stop and self.bars[index].endings:
            found.append(self.bars[index].endings[0].passes)
            index += 1
        return found

    def _leap(self, kind: str, bar: Bar) -> None:
        self.leapt = True
        self.to_coda = any(jump.kind == "coda" for b in self.bars[self.first : self.stop] for jump in b.jumps)
        self.at = self.first if kind == "dacapo" else self._target("segno", bar.index, after=False)
        self.section, self.turn = self.at, 1

    def _target(self, kind: str, here: int, *, after: bool) -> int:
        places = [b.index for b in self.bars[self.first : self.stop] if any(jump.kind == kind for jump in b.jumps)]
        if after:
            return next((p for p in places if p > here), here + 1)
        return next(iter(places), self.first)


def _order(bars: Sequence[Bar]) -> Iterator[int]:
    """Movement by movement: no repeat and no da capo goes back into another."""
    starts = [0, *(index for index, bar in enumerate(bars) if index and bar.heading is not None), len(bars)]
    for first, stop in pairwise(starts):
        yield from _Walker(bars, first, stop).run()
