"""Results: what a sitting's rows say, in numbers and in words, and how it compares with sittings before it.

Thresholds are where right answers are halfway between guessing and always: 3 in 4 with two answers, 2 in 3 with three,
whichever staircase led there, so that all sittings of a kind can be compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from appui.drill.fit import Answered, Detection, Threshold, detection, fit
from appui.drill.kinds import KINDS, Kind
from appui.drill.staircase import Staircase
from appui.drill.store import Row
from appui.errors import StoreError
from appui.text import counted

__all__ = ["FEW", "Result", "ago", "best_before", "known_rows", "result_of", "results_of", "said"]

#  below this many trials no threshold is looked for
FEW = 20


@dataclass(frozen=True)
class Result:
    """One sitting.

    `settled` is the mean of the staircase's last reversals, `None` before it has settled; `first` how many of
    `equal` trials with equal intervals were answered with the first.
    """

    kind: Kind
    player: str
    sitting: str
    moment: str
    trials: int
    right: int
    threshold: Threshold | None
    settled: float | None
    detection: Detection | None
    first: int
    equal: int
    least: float

    @property
    def words(self) -> str:
        """The threshold in a sentence, or why there is none."""
        ladder = self.kind.ladder
        if self.threshold is not None:
            heard = self.kind.gain.format(ladder.words(self.threshold.level))
            low, high = ladder.number(self.threshold.low), ladder.words(self.threshold.high)
            return f"{heard[0].upper()}{heard[1:]} (95 % interval {low} to {high}; {self.trials} trials)."
        if self.trials < FEW:
            many = "1 trial is" if self.trials == 1 else f"{self.trials} trials are"
            return f"No threshold: {many} too few; from {FEW} on there can be one."
        if self.right == self.trials:
            return f"No threshold: all {self.trials} answers were right, down to {ladder.words(self.least)}."
        return (
            f"No threshold: {self.right} of {self.trials} answers were right, too near to guessing to tell one. Hear a "
            "trial more than once with r, or begin with an easier kind."
        )


def results_of(rows: Iterable[Row]) -> list[Result]:
    """One result a sitting, in the order the sittings began; rows of kinds that are not known here are left out."""
    sittings: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if row.kind in KINDS:
            sittings.setdefault((row.player, row.sitting), []).append(row)
    return [result_of(each) for each in sittings.values()]


def known_rows(rows: Sequence[Row], file: Path) -> Sequence[Row]:
    """The rows, if all are of kinds and levels there are; raises `StoreError` naming the first that is not."""
    for number, row in enumerate(rows, 1):
        kind = KINDS.get(row.kind)
        if kind is None or row.unit != kind.ladder.unit or row.down not in (2, 3):
            what = f"kind {row.kind!r:.40}, unit {row.unit!r:.20} or rule {row.down} is none of this appui's"
            raise StoreError(file, what, "use the appui that made it", place=f"trial {number}")
        if not max(row.answer, row.given) < len(kind.answers):
            raise StoreError(file, "its answers are out of range", "export it again", place=f"trial {number}")
    return rows


def result_of(rows: Sequence[Row]) -> Result:
    """The result of one sitting's rows."""
    kind, asked = KINDS[rows[0].kind], [row for row in rows if not row.catch]
    equal = [row for row in rows if row.catch]
    stairs = Staircase(kind.ladder.rungs, rows[0].down, reversals=10_000)
    for row in asked:
        stairs.answer(right=row.right)
    answers = [Answered(row.level, row.right) for row in asked]
    pairs = [(row.answer, row.given) for row in asked]
    return Result(
        kind,
        rows[0].player,
        rows[0].sitting,
        rows[0].moment,
        len(asked),
        sum(row.right for row in asked),
        fit(answers, kind.guess) if len(asked) >= FEW else None,
        None if stairs.mean is None else kind.ladder.level(stairs.mean),
        detection(pairs, intervals=kind.intervals) if len(kind.answers) == 2 else None,
        sum(row.given == 0 for row in equal),
        len(equal),
        min((row.level for row in asked), default=kind.ladder.start),
    )


def best_before(results: Sequence[Result], result: Result) -> Result | None:
    """The last sitting before this one, of the same player and kind, that has a threshold."""
    earlier = [
        each
        for each in results
        if each.kind is result.kind
        and each.player == result.player
        and each.threshold
        and each.sitting != result.sitting
    ]
    return earlier[-1] if earlier else None


def said(result: Result, before: Result | None) -> list[str]:
    """What a player is told of a sitting: threshold, comparison, sensitivity and bias."""
    lines = [result.words]
    if before is not None and before.threshold is not None:
        when = ago(before.moment, result.moment)
        lines.append(f"{when[0].upper()}{when[1:]}: {result.kind.ladder.words(before.threshold.level)}.")
    if result.detection is not None and result.trials >= FEW:
        lines.append(_detected(result, result.detection))
    if result.equal:
        lines.append(_equal_words(result))
    return lines


def _equal_words(result: Result) -> str:
    """What was said of pairs that were equal: most people prefer the first."""
    pairs = f"{result.equal} pairs were" if result.equal > 1 else "1 pair was"
    return f"{pairs} equal; you said '{result.kind.answers[0]}' {counted(result.first, 'time')}."


#  about two standard errors of the bias in a sitting of 45 trials
_BIASED = 0.4


def _detected(result: Result, found: Detection) -> str:
    apart = f"How well you told them apart, over all levels: d' {found.d_prime:.2f}, where guessing is 0. "
    if abs(found.bias) < _BIASED:
        return apart + f"You preferred no answer (bias {found.bias:+.2f})."
    return apart + f"You preferred the answer '{result.kind.answers[found.bias > 0]}' (bias {found.bias:+.2f})."


def ago(then: str, today: str) -> str:
    """How long ago, in words; ``last time`` where the clock does not tell.

    >>> ago("2026-01-01T10:00:00+00:00", "2026-01-15T11:00:00+00:00")
    'two weeks ago'
    """
    try:
        gap = datetime.fromisoformat(today) - datetime.fromisoformat(then)
    except (ValueError, TypeError):
        return "last time"
    if gap < timedelta(days=1):
        return "last time"
    for name, days in (("year", 365), ("month", 30), ("week", 7), ("day", 1)):
        count = gap.days // days
        if count >= 2 or (count == 1 and name in ("day", "week", "year")):
            return f"{_counted(count)} {name}{'s' if count > 1 else ''} ago"
    return "last time"


def _counted(count: int) -> str:
    words = ("", "a", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    return words[count] if count < len(words) else str(count)
