"""What a player is told at the end of a sitting, as the manual shows it."""

from dataclasses import replace
from pathlib import Path

from appui.drill.fit import Detection, Threshold
from appui.drill.kinds import KINDS
from appui.drill.results import Result, said

PAGE = Path(__file__).parents[2] / "src" / "appui" / "manual" / "ear.md"
SITTING = Result(
    KINDS["heavier"],
    "Ada",
    "a",
    "2026-01-02T10:00:00+00:00",
    43,
    30,
    Threshold(2.2, 1.3, 2.9, 0.5, 43),
    2.2,
    Detection(1.17, 0.38),
    5,
    5,
    1.0,
)


def test_the_end_of_a_sitting_is_told_as_the_manual_says() -> None:
    """Threshold, comparison, how well the two were told apart, and equal pairs."""
    before = replace(SITTING, threshold=Threshold(3.4, 2.0, 5.0, 0.5, 40))
    shown = "\n".join(said(SITTING, before))
    assert f"```\n{shown}\n```" in PAGE.read_text("utf-8")


def test_one_equal_pair_is_one() -> None:
    """In the singular."""
    assert "1 pair was equal; you said 'in the first' 1 time." == said(replace(SITTING, equal=1, first=1), None)[-1]


def test_a_preferred_answer_is_named() -> None:
    """Beyond what chance brings."""
    told = said(replace(SITTING, detection=Detection(1.0, 0.6)), None)[1]
    assert "You preferred the answer 'in the second' (bias +0.60)." in told
