"""The ladder of difficulty of one kind of drill, from what nobody misses to what nobody hears.

Rung 0 is the easiest. Each rung down leaves the same ratio of the level above it, a third of an octave less unless said
otherwise: steps in log time for lengths, and the same for decibels, so that a step stays in proportion to what is left
(from 8 dB, steps of constant size would be slow at first or coarse near 1 dB). A staircase moves in rungs; thresholds
are means and fits over the logarithm of the level.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Ladder"]


@dataclass(frozen=True, slots=True)
class Ladder:
    """Levels from `start` down in `rungs` steps; `unit` is ``dB``, ``ms`` or ``%``; `of` says what is measured."""

    start: float
    rungs: int
    unit: str
    of: str
    a_halving: int = 3

    def level(self, rung: float) -> float:
        """The level of a rung; rungs between rungs are allowed.

        >>> Ladder(8, 15, "dB", "lean").level(15)
        0.25
        """
        return float(self.start * 2 ** (-rung / self.a_halving))

    def rung(self, level: float) -> float:
        """Where a level stands, between rungs."""
        return math.log2(self.start / level) * self.a_halving

    @property
    def levels(self) -> tuple[float, ...]:
        """Every level, easiest first."""
        return tuple(self.level(rung) for rung in range(self.rungs + 1))

    def words(self, level: float) -> str:
        """A level as it is said: two figures, and its unit.

        >>> Ladder(8, 15, "dB", "lean").words(1.88), Ladder(240, 17, "ms", "gap").words(119.7)
        ('1.9 dB', '120 ms')
        """
        return f"{self.number(level)} {self.unit}"

    def number(self, level: float) -> str:
        """A level without its unit."""
        if self.unit == "ms":
            return f"{level:.0f}" if level >= 10 else f"{level:.1f}"
        return f"{level:.0f}" if level >= 10 else f"{level:.1f}" if level >= 0.95 else f"{level:.2f}"
