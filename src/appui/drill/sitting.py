"""A sitting: one player, one kind, trial after trial, until the staircase is done or the player stops.

Nothing here sounds or prints: `next` gives a trial, `take` an answer and the row to keep.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from appui.drill.answers import CATCH
from appui.drill.kinds import Kind
from appui.drill.staircase import Staircase
from appui.drill.store import Row
from appui.drill.trial import Material, Trial, answers_of, make_trial

__all__ = ["Sitting", "now"]


def now() -> str:
    """The moment, ISO 8601, UTC."""
    return datetime.now(UTC).isoformat(timespec="seconds")


@dataclass
class Sitting:
    """See the module's head. `name` tells this sitting from all others; `trials` is the most there are."""

    kind: Kind
    material: Material
    player: str
    name: str
    seed: str
    down: int = 3
    trials: int = 50
    clock: Callable[[], str] = now
    rows: list[Row] = field(default_factory=list)
    stairs: Staircase = field(init=False)

    def __post_init__(self) -> None:
        self.stairs = Staircase(self.kind.ladder.rungs, self.down)
        self._answers = answers_of(self.kind, self.seed, self.trials)

    @property
    def level(self) -> float:
        """The level of the next trial."""
        return self.kind.ladder.level(self.stairs.rung)

    def next(self) -> Trial | None:
        """The next trial; `None` when it is over."""
        number = len(self.rows)
        if number >= self.trials or self.stairs.done:
            return None
        return make_trial(self.kind, self.material, self.seed, number, self.level, self._answers[number])

    def take(self, trial: Trial, given: int) -> Row:
        """Count an answer (from 0); the row is to be kept."""
        row = Row(
            self.player,
            self.name,
            trial.number,
            self.clock(),
            self.kind.name,
            trial.level,
            self.kind.ladder.unit,
            trial.answer,
            given,
            self.down,
            trial.origin[:500],
            trial.seed,
        )
        self.rows.append(row)
        if trial.answer != CATCH:
            self.stairs.answer(right=row.right)
        return row
