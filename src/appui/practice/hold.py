"""Fermatas in a practice track: the note is held, the click stops under it and counts the players in again.

A fermata lasts twice its note, at least two beats more (common practice: longer than written, by about as much again;
no source). The click marks its beginning, is silent, and takes up the last two beats. What sounds where the fermata
ends is held on; what comes after, small notes before the beat with it, is later by as much.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from appui.perform.model import Performance, PerformedNote
from appui.score.model import Bar, Score
from appui.score.repeats import Occurrence

__all__ = ["COUNT_BEATS", "Hold", "held", "holds_of", "later_q"]

COUNT_BEATS = 2
_BEFORE_BEAT = frozenset({"passing", "termination"})


class Hold(NamedTuple):
    """A fermata, in quarters from the first printed beat before anything is held.

    Its note's start and end, how much longer it is, and the beat the count is in.
    """

    start_q: Fraction
    end_q: Fraction
    extra_q: Fraction
    beat_q: Fraction

    @property
    def count_q(self) -> Fraction:
        """Where the count begins, on the same line as `end_q` and counted on through the hold."""
        return self.end_q + self.extra_q - COUNT_BEATS * self.beat_q


def holds_of(score: Score, order: Sequence[Occurrence]) -> tuple[Hold, ...]:
    """The fermatas of these bars; those of several parts at one place are one."""
    printed = _printed(score)
    found: list[Hold] = []
    for occurrence in order:
        bar = score.bars[occurrence.bar]
        shift_q = occurrence.onset_q - bar.onset_q
        for start_q, end_q in printed.get(bar.index, ()):
            found.append(_hold(bar, start_q + shift_q, end_q + shift_q))
    return tuple(found)


def _printed(score: Score) -> dict[int, list[tuple[Fraction, Fraction]]]:
    spans: dict[int, list[tuple[Fraction, Fraction]]] = {}
    for part in score.parts:
        for voice in part.voices:
            for event in voice.events:
                if event.fermata is not None:
                    spans.setdefault(event.bar, []).append((event.onset_q, event.end_q))
    return {bar: list(_joined(sorted(each))) for bar, each in spans.items()}


def _joined(spans: Iterable[tuple[Fraction, Fraction]]) -> Iterable[tuple[Fraction, Fraction]]:
    """Fermatas that overlap are one."""
    held: tuple[Fraction, Fraction] | None = None
    for span in spans:
        if held is not None and span[0] < held[1]:
            held = held[0], max(held[1], span[1])
            continue
        if held is not None:
            yield held
        held = span
    if held is not None:
        yield held


def _hold(bar: Bar, start_q: Fraction, end_q: Fraction) -> Hold:
    beat_q = bar.meter.beat_q
    beats = max(-((start_q - end_q) // beat_q), COUNT_BEATS)
    return Hold(start_q, end_q, beats * beat_q, beat_q)


def later_q(holds: Sequence[Hold], at_q: Fraction) -> Fraction:
    """Where a moment comes to lie when the fermatas before it are held."""
    return at_q + sum((hold.extra_q for hold in holds if hold.end_q <= at_q), Fraction(0))


def held(performance: Performance, holds: Sequence[Hold]) -> Performance:
    """The same performance with its fermatas held; `holds` in time order."""
    for hold in reversed(holds):
        performance = _hold_one(performance, hold)
    return performance


def _hold_one(performance: Performance, hold: Hold) -> Performance:
    start_q, end_q = hold.start_q + performance.lead_q, hold.end_q + performance.lead_q
    before = bisect_left([step.onset_q for step in performance.tempos], end_q) - 1
    extra_s = float(hold.extra_q * 60 / performance.tempos[max(before, 0)].qpm)
    near_q = end_q - (end_q - start_q) / 4

    def stretched(note: PerformedNote) -> PerformedNote:
        if note.onset_q >= end_q or (note.onset_q > start_q and note.role in _BEFORE_BEAT):
            return note._replace(onset_q=note.onset_q + hold.extra_q, onset_s=note.onset_s + extra_s)
        if note.onset_q + note.duration_q > near_q:
            return note._replace(duration_q=note.duration_q + hold.extra_q, duration_s=note.duration_s + extra_s)
        return note

    return replace(
        performance,
        parts=tuple(replace(part, notes=tuple(map(stretched, part.notes))) for part in performance.parts),
        tempos=tuple(
            step._replace(onset_q=step.onset_q + hold.extra_q, onset_s=step.onset_s + extra_s)
            if step.onset_q >= end_q and step.onset_q
            else step
            for step in performance.tempos
        ),
        marks=tuple(
            mark._replace(onset_q=mark.onset_q + hold.extra_q) if mark.onset_q >= end_q else mark
            for mark in performance.marks
        ),
        length_q=performance.length_q + hold.extra_q,
        length_s=performance.length_s + extra_s,
    )
