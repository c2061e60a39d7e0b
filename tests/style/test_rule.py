"""One rule of a style: where it holds."""

import pytest

from appui.exact import Fraction
from appui.style.rule import Rule, comparison_of, filled
from appui.style.situation import Fact, Situation


def holds(condition: object, fact: Fact) -> bool:
    """Whether a rule of one condition matches a situation of one fact."""
    return Rule({"fact": condition}, "plain", "why", "cite", "read").matches(Situation({"fact": fact}))


@pytest.mark.parametrize(
    ("condition", "fact", "expected"),
    [
        ("step", "step", True),
        ("step", "leap", False),
        (["step", "leap"], "leap", True),
        (">= 1/2", Fraction(1, 2), True),
        ("> 1/2", Fraction(1, 2), False),
        ("< 0.5", Fraction(1, 4), True),
        ("<= 2", 3, False),
        (2, 2, True),
    ],
)
def test_a_condition_is_a_value_a_list_or_a_comparison(condition: object, fact: Fact, expected: bool) -> None:
    """As a style says it."""
    assert expected == holds(condition, fact)


def test_yes_is_no_number() -> None:
    """A condition of 1 does not hold where a fact is true, nor the other way round."""
    assert not holds(1, True)
    assert not holds(True, 1)


@pytest.mark.parametrize("words", ["1/2", "== 1", ">= x", "> 1/0", ">=1/2/3", "> -1"])
def test_other_words_are_no_comparison(words: str) -> None:
    """A slip is told where the style is read."""
    assert comparison_of(words) is None


def test_shares_are_put_into_the_words_of_a_reading() -> None:
    """By the printed value, or by rule."""
    assert "leaning 1/4" == filled("leaning {length}", Fraction(1, 4), Fraction(1, 2))
    assert "leaning 1/2" == filled("leaning {rule}", Fraction(1, 4), Fraction(1, 2))
    assert "short" == filled("short", Fraction(1, 4), Fraction(1, 2))
