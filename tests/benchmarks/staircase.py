"""Staircase and fit on simulated listeners whose hearing is known: bias, spread, coverage, and what guessers get.

    python -m tests.benchmarks.staircase [--runs 2000] [--seed 1]

Listeners answer by the psychometric function of `drill/fit.py`, with thresholds anywhere in the middle of the ladder of
`heavier`, slopes from 0.3 to 0.9 octaves and 2 % of slips. `long` are staircases of 40 counted reversals, the chance of
a right answer where they settle held against 70.7 % and 79.4 % (Levitt 1971, read in excerpt); `sitting` are those a
player does: 8 counted reversals and at most 50 trials, with the threshold fitted. Guessers answer by chance alone.
"""

import argparse
import math
import random
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

from appui.drill.fit import Answered, chance_right, fit
from appui.drill.kinds import KINDS
from appui.drill.staircase import Staircase, target

LADDER = KINDS["heavier"].ladder
MOST, FEWEST = 50, 20
Chance = Callable[[float], float]


@dataclass(frozen=True)
class Listener:
    """A threshold in dB and a slope in octaves."""

    threshold: float
    slope: float

    def right(self, level: float) -> float:
        """The chance of a right answer."""
        return chance_right(level, self.threshold, self.slope, 0.5)

    def level(self, share: float) -> float:
        """Where this share of answers is right."""
        inner = (share - 0.5) / 0.48
        return self.threshold * 2 ** (self.slope * math.log(inner / (1 - inner)))


def listener(chance: random.Random) -> Listener:
    """Somebody whose threshold the ladder surrounds."""
    return Listener(LADDER.level(chance.uniform(4, 10)), chance.uniform(0.3, 0.9))


def sit(
    chance: random.Random, right: Chance, down: int, reversals: int, most: int, lowest: int = LADDER.rungs
) -> tuple[Staircase, list[Answered]]:
    """A whole sitting."""
    stairs = Staircase(lowest, down, reversals)
    answers: list[Answered] = []
    while not stairs.done and len(answers) < most:
        level = LADDER.level(stairs.rung)
        answers.append(Answered(level, chance.random() < right(level)))
        stairs.answer(right=answers[-1].right)
    return stairs, answers


def long_runs(chance: random.Random, down: int, runs: int) -> None:
    """Where long staircases settle."""
    shares, octaves = [], []
    for _ in range(runs):
        who = listener(chance)
        stairs, _ = sit(chance, who.right, down, 40, 100_000, lowest=60)
        assert stairs.mean is not None
        settled = LADDER.level(stairs.mean)
        shares.append(who.right(settled))
        octaves.append(math.log2(settled / who.level(target(down))))
    print(
        f"{down} down, long: {statistics.fmean(shares):.1%} right for {target(down):.1%}, "
        f"off by {statistics.fmean(octaves):+.3f} octaves, spread {statistics.stdev(octaves):.3f}"
    )


def sittings(chance: random.Random, down: int, runs: int) -> None:
    """What a player's sitting gives."""
    counts, settled, fitted, inside, widths = [], [], [], 0, []
    began = time.perf_counter()
    for _ in range(runs):
        who = listener(chance)
        stairs, answers = sit(chance, who.right, down, 8, MOST)
        counts.append(len(answers))
        if stairs.mean is not None:
            settled.append(math.log2(LADDER.level(stairs.mean) / who.level(target(down))))
        found = fit(answers, 0.5) if len(answers) >= FEWEST else None
        if found is not None:
            fitted.append(math.log2(found.level / who.threshold))
            inside += found.low <= who.threshold <= found.high
            widths.append(math.log2(found.high / found.low))
    each_ms = (time.perf_counter() - began) / runs * 1000
    print(
        f"{down} down, sitting: {statistics.fmean(counts):.0f} trials, settled off by {statistics.fmean(settled):+.3f} "
        f"octaves, spread {statistics.stdev(settled):.3f}; {each_ms:.0f} ms each"
    )
    off, spread, held = statistics.fmean(fitted), statistics.stdev(fitted), inside / len(fitted)
    print(
        f"{down} down, fitted: {len(fitted) / runs:.1%} of sittings, off by {off:+.3f} octaves, spread {spread:.3f}; "
        f"interval {statistics.median(widths):.2f} octaves wide, holds {held:.1%}"
    )


def guessers(chance: random.Random, down: int, runs: int, guess: float) -> None:
    """How many guessers get a threshold."""
    given = 0
    for _ in range(runs):
        _, answers = sit(chance, lambda _: guess, down, 8, MOST)
        given += len(answers) >= FEWEST and fit(answers, guess) is not None
    print(f"{down} down, guessing 1 in {round(1 / guess)}: {given} of {runs} get a threshold")


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    for down in (2, 3):
        chance = random.Random(f"{wanted.seed} {down}")  # noqa: S311 - listeners' chance
        long_runs(chance, down, wanted.runs)
        sittings(chance, down, wanted.runs)
        for guess in (1 / 2, 1 / 3):
            guessers(chance, down, wanted.runs, guess)


if __name__ == "__main__":
    main()
