"""A passage as performed once: some bars in one reading at one tempo, ready to be placed in a track.

Times are counted from the passage's first printed beat; small notes before it lie before zero (`lead_q`).

Fermatas under the click: it marks where the hold begins, is silent, and counts the players in again.

How long a hold is, the performance says; all parts wait in it (`perform.holds`). The count takes the last two beats of
the hold, or a whole bar, at the tempo that goes on after it (common practice, no source).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from operator import attrgetter
from typing import NamedTuple

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, holds_played
from appui.perform.model import Performance, Tuning
from appui.perform.play import play
from appui.practice.click import Click, ClickPattern, beats_of
from appui.practice.interval import transposed
from appui.practice.rests import shortened
from appui.practice.splice import spliced
from appui.score.model import Bar, Score, tempo_in_force
from appui.score.pitch import Transposition
from appui.score.repeats import Occurrence
from appui.style.reading import Reading

__all__ = ["COUNT_BEATS", "Hold", "Passage", "holds_in", "perform_passage"]

_START = attrgetter("start_q")


COUNT_BEATS = 2


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


@dataclass(frozen=True, slots=True)
class Passage:
    """One performance of some bars, with where its bars lie and what is held.

    `counted` are the bars, by their place in the order, that end a rest cut short: they are counted in any case.
    Where the beat gives and takes, `factor` is the tempo as a multiple of the printed one; else `None`.
    """

    performance: Performance
    score: Score
    order: tuple[Occurrence, ...]
    holds: tuple[Hold, ...]
    counted: frozenset[int] = frozenset()
    factor: Fraction | None = None

    @property
    def lead_q(self) -> Fraction:
        """How long before the first printed beat something sounds, in quarters."""
        return self.performance.lead_q

    @property
    def lead_s(self) -> float:
        """The same in seconds."""
        return self.performance.seconds(self.lead_q)

    @property
    def body_q(self) -> Fraction:
        """From the first printed beat to the end of the last bar, in quarters."""
        return self.performance.length_q - self.lead_q

    @property
    def body_s(self) -> float:
        """The same in seconds."""
        return self.seconds(self.body_q)

    @property
    def first(self) -> Bar:
        """The first bar."""
        return self.score.bars[self.order[0].bar]

    @property
    def qpm(self) -> Fraction:
        """The tempo that leads to the first beat, quarter notes a minute: where beats differ, a bar's mean."""
        if self.factor is None:
            return self.qpm_at(Fraction(0))
        return self._mean_qpm(min(self.first.meter.bar_q, self.body_q))

    def _mean_qpm(self, end_q: Fraction) -> Fraction:
        """The mean tempo up to a moment, what is held left out."""
        seconds = quarters = Fraction(0)
        onsets = [Fraction(0), *(step.onset_q - self.lead_q for step in self.performance.tempos), end_q]
        within = sorted({onset_q for onset_q in onsets if 0 <= onset_q <= end_q})
        for from_q, until_q in pairwise(within):
            if not any(hold.start_q < until_q and from_q < hold.end_q for hold in self.holds):
                seconds += (until_q - from_q) * 60 / self.qpm_at(from_q)
                quarters += until_q - from_q
        return Fraction(round(1000 * 60 * quarters / seconds), 1000) if seconds else self.qpm_at(Fraction(0))

    def counted_qpm(self, occurrence: Occurrence) -> Fraction:
        """The tempo by which the beats of a bar are counted whole or in parts: alike in bars that are marked alike."""
        if self.factor is None:
            return self.qpm_at(occurrence.onset_q)
        return tempo_in_force(self.score.tempos, self.score.bars[occurrence.bar].onset_q).qpm * self.factor

    def count_in(self, bars: int, pattern: ClickPattern) -> tuple[list[Click], Fraction]:
        """Clicks of full bars, then of what is missing of the pickup's bar, and how long that is in quarters.

        Offsets count from the first click. Even a pattern that is off or marks bars alone counts beats here.
        """
        bar = self.first
        counted = pattern if pattern.sounds else ClickPattern(groups=pattern.groups)
        counted = replace(counted, kind="beats" if counted.kind == "bar" else counted.kind, silent_bars=False)
        length_q = bars * bar.meter.bar_q + bar.lead_q
        clicks = [
            Click(number * bar.meter.bar_q + each.offset_q, each.rank)
            for number in range(bars + (bar.lead_q > 0))
            for each in counted.bar(bar.meter, self.counted_qpm(self.order[0]))
        ]
        return [each for each in clicks if each.offset_q < length_q], length_q

    def seconds(self, at_q: Fraction) -> float:
        """Seconds from the first printed beat to a moment after it."""
        return self.performance.seconds(at_q + self.lead_q) - self.lead_s

    @property
    def ends_held(self) -> bool:
        """Whether the last bar ends in a hold."""
        return any(hold.end_q >= self.body_q for hold in self.holds)

    def qpm_at(self, at_q: Fraction) -> Fraction:
        """Quarter notes a minute at a moment, as if nothing were held."""
        found = self.performance.step_at(at_q + self.lead_q).qpm
        hold = self._hold_by(at_q)
        return found * hold.times if hold is not None and at_q < hold.end_q else found

    def _hold_by(self, at_q: Fraction) -> Hold | None:
        """The last hold that begins by a moment."""
        index = bisect_right(self.holds, at_q, key=_START)
        return self.holds[index - 1] if index else None

    def clicks(
        self, pattern: ClickPattern, *, bars_before: int, goes_on: bool, cue: str | None = None
    ) -> Iterator[Click]:
        """The clicks under the passage, offsets from its first printed beat.

        `bars_before` bars have gone before in the track, for silent bars; `goes_on`: music follows after the last bar,
        so a fermata there is counted out of. `cue` is how; left out, beats where there is a click.
        """
        for count, occurrence in enumerate(self.order):
            if pattern.silent_bars and (count + bars_before) % 2:
                continue
            bar = self.score.bars[occurrence.bar]
            qpm = self.counted_qpm(occurrence)
            lead_q = bar.lead_q
            end_q = bar.length_q + lead_q
            counted = ClickPattern() if count in self.counted and not pattern.sounds else pattern
            for click in counted.bar(bar.meter, qpm, end_q):
                if lead_q <= click.offset_q < end_q:
                    at_q = occurrence.onset_q + click.offset_q - lead_q
                    hold = self._hold_by(at_q)
                    if hold is None or at_q == hold.start_q or at_q >= hold.end_q:
                        yield Click(at_q, click.rank)
        cue = cue or ("beats" if pattern.sounds else "none")
        for hold in self.holds:
            if goes_on or hold.end_q < self.body_q:
                yield from (Click(at_q, 1) for at_q in hold.counts(cue))


def holds_in(
    interpretation: Interpretation, order: Sequence[Occurrence], changed: Mapping[str, Reading] | None = None
) -> tuple[Hold, ...]:
    """The holds of these bars in the order they are played, with some readings changed."""
    printed = holds_played(interpretation, changed)
    starts = [hold.start_q for hold in printed]
    found: list[Hold] = []
    for occurrence in order:
        bar = interpretation.score.bars[occurrence.bar]
        shift_q = occurrence.onset_q - bar.onset_q
        first, last = (bisect_left(starts, moment_q) for moment_q in (bar.onset_q, bar.onset_q + bar.length_q))
        found += (
            Hold(hold.start_q + shift_q, hold.end_q + shift_q, hold.times, bar.meter.beat_q, len(beats_of(bar.meter)))
            for hold in printed[first:last]
        )
    return tuple(found)


def perform_passage(
    interpretation: Interpretation,
    bars: str | None,
    *,
    repeats: bool = True,
    changed: Mapping[str, Reading] | None = None,
    again: Interpretation | None = None,
    interval: Transposition | None = None,
    tuning: Tuning | None = None,
    rests: int | None = None,
) -> Passage:
    """Perform some bars, or the whole; where a bar comes again, in the readings of `again` if that is given.

    Rests of the solo that are longer than `rests` bars are cut to so many.
    """
    order, counted = interpretation.order(bars, repeats=repeats), frozenset[int]()
    if rests is not None:
        solos = {part.index for part in interpretation.solos}
        order, counted = shortened(interpretation.score, order, solos, rests)
    performance = play(interpretation, order, changed)
    if again is not None and any(occurrence.turn > 1 for occurrence in order):
        performance = spliced(performance, play(again, order), order)
    holds = holds_in(interpretation, order, changed)
    if interval is not None:
        performance = transposed(performance, interval)
    factor = interpretation.factor if interpretation.wishes.time == "shaped" else None
    return Passage(replace(performance, tuning=tuning), interpretation.score, tuple(order), holds, counted, factor)
