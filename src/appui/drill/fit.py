"""From right and wrong answers to a threshold: a psychometric function fitted by scipy, and signal detection.

    P(right at x) = g + (1 - g - l) / (1 + exp(-(x - a) / b)),  x = log2 level

`g` is the chance of a guess, `l` the share of slips, taken as 2 %, `a` the threshold: halfway between guessing and
(nearly) always right, so 3 in 4 for two answers and 2 in 3 for three. The slope `b` is held loosely near half an
octave, since a staircase asks little far from `a` (a penalty, a design choice). The 95 % interval is that of the
profile likelihood: all `a` that the answers do not speak against. Chi-square's 3.84 holds for many answers; in sittings
of 45 trials it held the thresholds of 91 % of simulated listeners, and 4.6, taken here, those of 95 %
(`tests/benchmarks/staircase.py`).

There is a threshold only where the answers are better than guesses: where the fit is not clearly better than one
constant chance `g` (likelihood ratio, 1 in 20) or its interval does not end within two octaves of what was asked, or
spans more than three and a third, there is none, and that is said.

Signal detection: d' = (z(H) - z(F)) / sqrt 2 for two intervals, without the root for one; bias c = -(z(H) + z(F)) / 2,
below 0 for a leaning towards the first answer; half an answer is added to each count, so that no rate is 0 or 1
(log-linear correction, memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Answered", "Detection", "Threshold", "chance_right", "detection", "fit"]

_SLIP = 0.02
_SLOPE = (0.5, 0.7)  # octaves, spread of its logarithm
_SLOPES = (math.log(0.05), math.log(4.0))  # logarithms of octaves
#  twice the difference of log-likelihoods: 95 % of sittings; 95 % of chi-square with three degrees of freedom
_INSIDE, _BETTER = 4.6, 7.815
_WIDEST_OCTAVES = 3.3
_REACH_OCTAVES = 2.0
#  the grid the interval is read from, between whose points it is taken as straight
_GRID_OCTAVES, _GRID_SLOPES = 0.04, 25


class Answered(NamedTuple):
    """One trial's level, and whether the answer was right."""

    level: float
    right: bool


@dataclass(frozen=True, slots=True)
class Threshold:
    """A threshold with its 95 % interval, in the unit of the levels; `slope` in octaves; from how many `trials`."""

    level: float
    low: float
    high: float
    slope: float
    trials: int


class Detection(NamedTuple):
    """`d_prime` and `bias` (see the module's head) over all trials of a sitting, whatever their level."""

    d_prime: float
    bias: float


def chance_right(level: float, threshold: float, slope: float, guess: float, slip: float = _SLIP) -> float:
    """The psychometric function; `slope` in octaves.

    >>> chance_right(2.0, 2.0, 0.5, 0.5, 0.0)
    0.75
    """
    z = max(min((math.log2(level) - math.log2(threshold)) / slope, 500.0), -500.0)
    return guess + (1 - guess - slip) / (1 + math.exp(-z))


def fit(answers: Sequence[Answered], guess: float) -> Threshold | None:
    """The threshold of these answers, or `None` where they are no better than guesses."""
    if len(answers) < 8 or len({each.right for each in answers}) < 2:
        return None
    cost = _Cost(answers, guess)
    best, at = cost.least()
    if 2 * (cost.guessing() - cost(*at)[0]) < _BETTER:
        return None
    ends = _interval(cost, at[0], best)
    if ends is None or ends[1] - ends[0] > _WIDEST_OCTAVES:
        return None
    return Threshold(2 ** at[0], 2 ** ends[0], 2 ** ends[1], math.exp(at[1]), len(answers))


class _Cost:
    """Minus the log-likelihood of the answers, and the penalties."""

    def __init__(self, answers: Sequence[Answered], guess: float) -> None:
        self.guess = guess
        table: dict[float, list[int]] = {}
        for each in answers:
            table.setdefault(math.log2(each.level), [0, 0])[not each.right] += 1
        self.asked = tuple((x, right, wrong) for x, (right, wrong) in table.items())
        self.bounds = (min(table) - _REACH_OCTAVES, max(table) + _REACH_OCTAVES)

    def __call__(self, threshold: float, slope: float) -> tuple[float, tuple[float, float]]:
        """The cost and its gradient; `threshold` log2, `slope` as its logarithm."""
        octaves, span, middle = math.exp(slope), 1 - self.guess - _SLIP, math.log(_SLOPE[0])
        off = (slope - middle) / _SLOPE[1]
        total, by_threshold, by_slope = off**2 / 2, 0.0, off / _SLOPE[1]
        # a handful of levels: plain numbers are quicker than arrays
        for x, right, wrong in self.asked:
            z = max(min((threshold - x) / octaves, 500.0), -500.0)
            share = 1 / (1 + math.exp(z))
            p = self.guess + span * share
            total -= right * math.log(p) + wrong * math.log(1 - p)
            change = (wrong / (1 - p) - right / p) * span * share * (1 - share)
            by_threshold -= change / octaves
            by_slope += change * z
        return total, (by_threshold, by_slope)

    def guessing(self) -> float:
        """The misfit of guesses at every level."""
        right, wrong = sum(each[1] for each in self.asked), sum(each[2] for each in self.asked)
        return -(right * math.log(self.guess) + wrong * math.log(1 - self.guess))

    def least(self) -> tuple[float, tuple[float, float]]:
        """The least cost and where, searched for from the least on the grid."""
        from scipy.optimize import minimize

        start, bounds = self.grid[0][int(self.grid[1].argmin())], [self.bounds, _SLOPES]
        begin = [start, math.log(_SLOPE[0])]
        done = minimize(lambda at: self(*map(float, at)), begin, jac=True, method="L-BFGS-B", bounds=bounds)
        return float(done.fun), (float(done.x[0]), float(done.x[1]))

    @cached_property
    def grid(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Thresholds within reach, log2, and the least cost of each over all slopes."""
        import numpy as np

        thresholds = np.arange(self.bounds[0], self.bounds[1] + _GRID_OCTAVES, _GRID_OCTAVES)
        slopes = np.linspace(*_SLOPES, _GRID_SLOPES)
        x, right, wrong = np.array(self.asked, float).T
        z = (thresholds[:, None, None] - x) / np.exp(slopes)[:, None]
        p = self.guess + (1 - self.guess - _SLIP) / (1 + np.exp(np.clip(z, -500, 500)))
        costs = (((slopes - math.log(_SLOPE[0])) / _SLOPE[1]) ** 2 / 2) - np.log(p) @ right - np.log(1 - p) @ wrong
        return thresholds, costs.min(axis=1)


def _interval(cost: _Cost, threshold: float, best: float) -> tuple[float, float] | None:
    """Where the interval around the threshold ends, log2; `None` where it does not end within reach."""
    import numpy as np

    thresholds, costs = cost.grid
    outside = 2 * (costs - best) - _INSIDE
    below = np.flatnonzero((thresholds < threshold) & (outside > 0))
    above = np.flatnonzero((thresholds > threshold) & (outside > 0))
    if not len(below) or not len(above):
        return None
    low, high = int(below[-1]), int(above[0])
    return _crossing(thresholds, outside, low), _crossing(thresholds, outside, high - 1)


def _crossing(thresholds: NDArray[np.float64], outside: NDArray[np.float64], at: int) -> float:
    """Where the line between a point of the grid and the next one passes 0."""
    share = outside[at] / (outside[at] - outside[at + 1])
    return float(thresholds[at] + share * (thresholds[at + 1] - thresholds[at]))


def detection(pairs: Sequence[tuple[int, int]], *, intervals: int) -> Detection | None:
    """Sensitivity and bias from (right answer, given answer), answers 0 and 1; `None` where one never was right."""
    counts = [[sum(pair == (right, given) for pair in pairs) for given in (0, 1)] for right in (0, 1)]
    if not all(map(sum, counts)):
        return None
    z: Callable[[float], float] = NormalDist().inv_cdf
    hits, false = ((first + 0.5) / (first + second + 1) for first, second in counts)
    return Detection((z(hits) - z(false)) / math.sqrt(intervals), -(z(hits) + z(false)) / 2)
