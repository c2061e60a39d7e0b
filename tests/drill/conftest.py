"""Simulated listeners, results to keep, one SoundFont for all trials."""

import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from appui.drill.fit import Answered, chance_right
from appui.drill.kinds import Kind
from appui.drill.sound import opened_font
from appui.drill.staircase import Staircase
from appui.drill.store import Row
from appui.sound.synth import Font

Listen = Callable[..., tuple[Staircase, list[Answered]]]


def sit(
    kind: Kind,
    threshold: float | None,
    seed: int,
    *,
    down: int = 3,
    trials: int = 50,
    reversals: int = 8,
    slope: float = 0.5,
    slip: float = 0.02,
) -> tuple[Staircase, list[Answered]]:
    """A sitting of a listener who hears by the psychometric function, or guesses where there is no threshold."""
    chance = random.Random(seed)  # noqa: S311 - a listener's
    stairs = Staircase(kind.ladder.rungs, down, reversals)
    answers: list[Answered] = []
    while not stairs.done and len(answers) < trials:
        level = kind.ladder.level(stairs.rung)
        right = kind.guess if threshold is None else chance_right(level, threshold, slope, kind.guess, slip)
        answers.append(Answered(level, chance.random() < right))
        stairs.answer(right=answers[-1].right)
    return stairs, answers


@pytest.fixture
def listen() -> Listen:
    """`sit`."""
    return sit


def made_row(number: int = 0, **changed: Any) -> Row:
    """A row of an answer that was right."""
    plain = Row("Ada", "s1", number, "2026-01-01T10:00:00+00:00", "heavier", 2.0, "dB", 0, 0, 3, "invented", "7")
    return plain._replace(**changed)


@pytest.fixture
def row() -> Callable[..., Row]:
    """`made_row`."""
    return made_row


@pytest.fixture(scope="session")
def font() -> Iterator[Font]:
    """The SoundFont that needs no download."""
    with opened_font() as opened:
        yield opened


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    """A place for results that are not the player's."""
    return tmp_path / "results" / "drill.sqlite"
