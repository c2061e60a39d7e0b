"""The performed tempo map, and the seconds of performed positions."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from appui.exact import Fraction
from appui.perform.model import TempoStep
from appui.score.model import Score
from appui.score.repeats import Occurrence

__all__ = ["Clock", "performed_tempos", "timed_steps"]


def performed_tempos(
    score: Score, order: Sequence[Occurrence], factor: Fraction, shift_q: Fraction
) -> tuple[TempoStep, ...]:
    """The tempo steps of the performed time line, which starts `shift_q` before the first bar."""
    onsets = [mark.onset_q for mark in score.tempos]
    steps: list[tuple[Fraction, Fraction]] = []
    for occurrence in order:
        bar = score.bars[occurrence.bar]
        first = max(bisect_right(onsets, bar.onset_q) - 1, 0)
        steps.append((occurrence.onset_q, score.tempos[first].qpm * factor))
        for index in range(first + 1, len(score.tempos)):
            mark = score.tempos[index]
            if mark.onset_q >= bar.onset_q + bar.length_q:
                break
            steps.append((occurrence.onset_q + mark.onset_q - bar.onset_q, mark.qpm * factor))
    return timed_steps(steps, shift_q)


def timed_steps(steps: list[tuple[Fraction, Fraction]], shift_q: Fraction) -> tuple[TempoStep, ...]:
    """Positions and quarter notes a minute as steps with their seconds, all moved by `shift_q`, the first to 0."""
    out: list[TempoStep] = []
    for onset_q, qpm in steps:
        at_q = onset_q + shift_q if out else Fraction(0)
        if out and out[-1].qpm == qpm:
            continue
        onset_s = out[-1].onset_s + float((at_q - out[-1].onset_q) * 60 / out[-1].qpm) if out else 0.0
        out.append(TempoStep(at_q, onset_s, qpm))
    return tuple(out)


class Clock:
    """Seconds of performed positions, fast for many."""

    def __init__(self, steps: Sequence[TempoStep]) -> None:
        self._onsets = [float(step.onset_q) for step in steps]
        self._floats = [(float(step.onset_q), step.onset_s, 60.0 / float(step.qpm)) for step in steps]
        self._single = self._floats[0] if len(steps) == 1 else None

    def seconds(self, at_q: Fraction) -> float:
        """The moment of a performed position."""
        return self._at(float(at_q))

    def span(self, onset_q: Fraction, length_q: Fraction) -> tuple[float, float]:
        """The moments a note begins and ends."""
        onset = float(onset_q)
        return self._at(onset), self._at(onset + float(length_q))

    def _at(self, at: float) -> float:
        start, start_s, pace = self._single or self._floats[max(bisect_right(self._onsets, at) - 1, 0)]
        return start_s + (at - start) * pace
