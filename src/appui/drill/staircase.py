"""The transformed up-down staircase (Levitt 1971, read in excerpt).

After `down` right answers in a row the next trial is harder, after a wrong one easier; so it settles where
p^down = 1/2: 70.7 % right for two down and one up, 79.4 % for three. Steps are rungs of a ladder, and of one size up
and down.

Departure, common in practice: until the first mistake every right answer leads down; the first steps are of two rungs,
after the second reversal of one. Only reversals at one rung count, and when `reversals` of them are
there it stops. Trials at the ends of the ladder stay there.

The page's own staircase (`web/drill.js`) keeps the same rule; a test holds the two against each other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import fmean

__all__ = ["STEPS", "Staircase", "target"]

#  rungs a step, by how many reversals there have been; the last for all later ones
STEPS = (2, 2, 1)


def target(down: int) -> float:
    """Share of right answers a staircase settles at.

    >>> round(target(2), 4), round(target(3), 4)
    (0.7071, 0.7937)
    """
    return float(0.5 ** (1 / down))


@dataclass(slots=True)
class Staircase:
    """Where a player stands on a ladder of rungs 0 to `lowest`; begins at `rung`."""

    lowest: int
    down: int = 3
    reversals: int = 8
    rung: int = 0
    turns: list[int] = field(default_factory=list)
    missed: bool = False
    _right: int = 0
    _way: int = 0

    def answer(self, *, right: bool) -> None:
        """Take an answer to a trial at the present rung, and move."""
        if not right:
            self.missed, self._right = True, 0
            self._move(-1)
            return
        self._right += 1
        if self._right >= (self.down if self.missed else 1):
            self._right = 0
            self._move(1)

    def _move(self, way: int) -> None:
        if self._way and way != self._way:
            self.turns.append(self.rung)
        self._way = way
        step = STEPS[min(len(self.turns), len(STEPS) - 1)]
        self.rung = min(max(self.rung + way * step, 0), self.lowest)

    @property
    def counted(self) -> list[int]:
        """The rungs of the reversals that count."""
        return self.turns[len(STEPS) - 1 :]

    @property
    def done(self) -> bool:
        """Whether enough reversals are there."""
        return len(self.counted) >= self.reversals

    @property
    def mean(self) -> float | None:
        """The rung it has settled at: the mean of an even number of counted reversals; `None` for fewer than four."""
        even = self.counted[len(self.counted) % 2 :]
        return fmean(even) if len(even) >= 4 else None
