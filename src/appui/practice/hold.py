"""Fermatas under the click: it marks where the hold begins, is silent, and counts the players in again.

How long a hold is, the performance says; all parts wait in it (`perform.holds`). The count takes the last two beats of
the hold, or a whole bar, at the tempo that goes on after it (common practice, no source).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.score.model import Meter
from appui.score.repeats import Occurrence
from appui.style.reading import Reading

__all__ = ["COUNT_BEATS", "Hold", "holds_in"]

COUNT_BEATS = 2


def _beats(meter: Meter) -> int:
    return max(1, int(meter.bar_q / meter.beat_q))


class Hold(NamedTuple):
    """A stretch of a passage that lasts `times` its length, in quarters from the first printed beat."""

    start_q: Fraction
    end_q: Fraction
    times: Fraction
    beat_q: Fraction
    bar_beats: int = COUNT_BEATS

    def counts(self, cue: str = "beats") -> Iterator[Fraction]:
        """The moments of the count: two beats, or for ``bars`` a bar of them, as far as the hold is so long.

        Time stands still by `times` here, so the beats are that much closer.
        """
        for before in range({"bars": self.bar_beats, "none": 0}.get(cue, COUNT_BEATS), 0, -1):
            at_q = self.end_q - before * self.beat_q / self.times
            if at_q > self.start_q:
                yield at_q


def holds_in(
    interpretation: Interpretation, order: Sequence[Occurrence], changed: Mapping[str, Reading] | None = None
) -> tuple[Hold, ...]:
    """The holds of these bars in the order they are played, with some readings changed."""
    printed = interpretation.holds(changed)
    starts = [hold.start_q for hold in printed]
    found: list[Hold] = []
    for occurrence in order:
        bar = interpretation.score.bars[occurrence.bar]
        shift_q = occurrence.onset_q - bar.onset_q
        first, last = (bisect_left(starts, moment_q) for moment_q in (bar.onset_q, bar.onset_q + bar.length_q))
        found += (
            Hold(hold.start_q + shift_q, hold.end_q + shift_q, hold.times, bar.meter.beat_q, _beats(bar.meter))
            for hold in printed[first:last]
        )
    return tuple(found)
