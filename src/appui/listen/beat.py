"""Where the beat is in a take without a clock: a smooth curve through the plain notes, and how well it is known.

The curve is a Gaussian process over the score's own seconds: a straight line (the tempo), a Matérn 5/2 part (what the
player does with it), and scatter of single notes. How far tempo bends, how quickly, and how much single notes scatter
is taken from the take itself, as what best foretells each plain note from the others. A note that the others do not
expect counts less. Where little is near, the spread says so. No curve is drawn through a fermata.

Source: Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, ch. 2 and 5.4.2 (memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Row = NDArray[np.float64]

__all__ = ["SURE", "Beat", "Habit", "Point", "beats_at", "habit_of", "near", "odds"]

#  below this chance nothing is said of where a note falls
SURE = 0.85
#  points on which a moment's beat is drawn
_NEAR = 36
#  bends of the tempo (s), how long they last (s), scatter of a note (s)
_BENDS = (0.02, 0.06, 0.18, 0.5)
_LENGTHS = (1.5, 3.0, 6.0, 12.0)
_SCATTERS = (0.004, 0.008, 0.013, 0.02, 0.032)
#  what the line itself may be off before anything is heard: seconds, and seconds a second
_LINE = (10.0, 1.0)
#  the same where a track leads: the player's habit of being early or late, and clocks that differ
_LED_LINE = (0.3, 0.0005)
_LED_BENDS = (0.005, 0.012, 0.025)
#  the spread of a curve whose bends are guessed is larger than it says
_HONEST = 1.15
_FEWEST = 4


class Point(NamedTuple):
    """A note whose beat is known: where the score has it, where it was played, in which stretch; `doubt` 1 or more."""

    nominal_s: float
    played_s: float
    stretch: int = 0
    doubt: float = 1.0


class Beat(NamedTuple):
    """A beat: when it is, how well that is known (standard deviation), and the tempo there against the score's.

    `spread_s` is infinite where nothing near is known.
    """

    at_s: float
    spread_s: float
    pace: float = 1.0


class Habit(NamedTuple):
    """How a player plays: how far the tempo bends (s), over how long (s), and how single notes scatter (s).

    `led` says that the tempo is a track's, which the player follows: then a beat is the track's own, and what the
    player is used to be early or late by.
    """

    bend_s: float = 0.06
    length_s: float = 3.0
    scatter_s: float = 0.013
    led: bool = False


def habit_of(points: Sequence[Point], *, led: bool = False) -> Habit:
    """What best foretells each of some points from the others; `led` where the player follows a track."""
    import numpy as np

    groups = [group for group in _groups(points) if len(group) >= _FEWEST]
    if not groups:
        return Habit(0.02 if led else 0.06, scatter_s=0.02, led=led)
    best, best_score = Habit(led=led), -np.inf
    for bend, length, scatter in product(_LED_BENDS if led else _BENDS, _LENGTHS, _SCATTERS):
        habit = Habit(bend, length, scatter, led)
        score = sum(_foretold(group, habit) for group in groups)
        if score > best_score:
            best, best_score = habit, score
    return best


def _groups(points: Sequence[Point]) -> list[list[Point]]:
    """Points in order, a stretch and at most `_NEAR` at a time."""
    groups: list[list[Point]] = []
    for point in points:
        if not groups or len(groups[-1]) >= _NEAR or groups[-1][-1].stretch != point.stretch:
            groups.append([])
        groups[-1].append(point)
    return groups


def _foretold(points: Sequence[Point], habit: Habit) -> float:
    """How well each is foretold by the others: the sum of heavy-tailed log densities."""
    import numpy as np

    away, spread = _left_out(points, habit)
    z2 = (away / spread) ** 2
    return float(np.sum(-np.log(spread) - 2.5 * np.log1p(z2 / 4)))


def _left_out(points: Sequence[Point], habit: Habit) -> tuple[Row, Row]:
    """How far each point is from what the others foretell, and the spread of that."""
    import numpy as np

    x, y, noise = _columns(points, habit)
    inverse = np.linalg.inv(_kernel(x, x, habit) + np.diag(noise))
    scale = np.diag(inverse)
    return (inverse @ (y - _line(x, y, habit))) / scale, np.sqrt(1 / scale)


def _columns(points: Sequence[Point], habit: Habit) -> tuple[Row, Row, Row]:
    import numpy as np

    x = np.array([point.nominal_s for point in points])
    y = np.array([point.played_s for point in points])
    doubt = np.array([point.doubt for point in points])
    return x, y, (habit.scatter_s * doubt) ** 2


def _line(x: Row, y: Row, habit: Habit) -> Row:
    """A straight line that half the points agree on, at every x: slopes between points far apart, their middle."""
    import numpy as np

    slope, start = _slope(x, y, habit)
    return np.asarray(start + slope * x)


def _slope(x: Row, y: Row, habit: Habit) -> tuple[float, float]:
    import numpy as np

    if habit.led:
        return 1.0, float(np.median(y - x))
    half = max(len(x) // 2, 1)
    runs = x[half:] - x[: len(x) - half]
    wide = runs > 1e-6
    slope = float(np.median((y[half:] - y[: len(y) - half])[wide] / runs[wide])) if wide.any() else 1.0
    return slope, float(np.median(y - slope * x))


def _kernel(one: Row, two: Row, habit: Habit) -> NDArray[np.float64]:
    import numpy as np

    middle = one.mean() if len(one) else 0.0
    apart = np.sqrt(5) * np.abs(one[:, np.newaxis] - two) / habit.length_s
    bend = habit.bend_s**2 * (1 + apart + apart**2 / 3) * np.exp(-apart)
    start, slope = _LED_LINE if habit.led else _LINE
    line = start**2 + slope**2 * np.outer(one - middle, two - middle)
    return np.asarray(bend + line)


def beats_at(nominal_s: Sequence[float], stretches: Sequence[int], points: Sequence[Point], habit: Habit) -> list[Beat]:
    """The beats at some moments of the score, each from the points near it in its own stretch."""
    import numpy as np

    by_stretch: dict[int, list[Point]] = {}
    for point in points:
        by_stretch.setdefault(point.stretch, []).append(point)
    out = []
    for at, stretch in zip(nominal_s, stretches, strict=True):
        own = by_stretch.get(stretch, [])
        if len(own) < _FEWEST:
            out.append(Beat(float("nan"), float("inf")))
            continue
        x = np.array([point.nominal_s for point in own])
        near = np.sort(np.argsort(np.abs(x - at), kind="stable")[:_NEAR])
        out.append(_beat([own[index] for index in near], at, habit))
    return out


def _beat(points: Sequence[Point], at_s: float, habit: Habit) -> Beat:
    import numpy as np

    points = _doubted(points, habit)
    x, y, noise = _columns(points, habit)
    # all around the same middle, so that line and points agree on it
    everything = np.append(x, at_s)
    kernel = _kernel(everything, everything, habit)
    inside, across = kernel[:-1, :-1] + np.diag(noise), kernel[-1, :-1]
    slope, start = _slope(x, y, habit)
    weights = np.linalg.solve(inside, np.column_stack([y - start - slope * x, across]))
    mean = start + slope * at_s + float(across @ weights[:, 0])
    spread = float(np.sqrt(max(kernel[-1, -1] - float(across @ weights[:, 1]), 1e-8)))
    return Beat(mean, _HONEST * spread, slope)


def _doubted(points: Sequence[Point], habit: Habit) -> list[Point]:
    """The points, those the others do not expect with more doubt, the worst first."""
    import numpy as np

    found = list(points)
    for _ in range(3):
        away, spread = _left_out(found, habit)
        z = np.abs(away / spread)
        if z.max() < 2.5:
            break
        found = [
            point._replace(doubt=point.doubt * max(size / 1.5, 1.0)) if size > max(2.5, 0.6 * z.max()) else point
            for point, size in zip(found, z, strict=True)
        ]
    return found


def near(away_s: float, spread_s: float) -> float:
    """Log density of being so far from the beat; with heavy tails, since players surprise."""
    return -math.log(spread_s) - 3 * math.log1p((away_s / spread_s) ** 2 / 5)


def odds(one: float, other: float) -> float:
    """The chance of the second of two ways, whose log densities these are."""
    return 1 / (1 + math.exp(max(min(one - other, 50), -50)))
