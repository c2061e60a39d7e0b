"""A plain situation: a small eighth leaning from the step above into a half note on the downbeat of a slow piece."""

import pytest

from appui.exact import Fraction
from appui.style.situation import FACTS, Fact, Situation
from appui.style.table import load_style

HALF, TWO = Fraction(1, 2), Fraction(2)
PLAIN: dict[str, Fact] = {
    **dict.fromkeys(FACTS, False),
    "sign": "small notes", "count": 1, "value_q": HALF, "member": "dissonance", "leans": "yes", "beat": "down",
    "main_q": TWO, "main_s": TWO, "before": "step", "repeats_before": True, "direction": "above", "steps": 1,
    "semitones": 2, "next": "falling second", "character": "slow", "stroke": "none", "figure": "none",
}  # fmt: skip


@pytest.fixture(scope="session")
def plain():
    """Its facts by name."""
    return PLAIN


@pytest.fixture(scope="session")
def reading():
    """A function: the reading's words of a style in the plain situation with some facts changed."""

    def read(style: str, **facts: Fact) -> str:
        situation = Situation(PLAIN | facts)
        words = load_style(style).rule_for(situation).reading
        return words.format(length=situation.written_share, rule=situation.rule_share)

    return read
