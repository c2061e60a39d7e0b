"""What a rule asks for, in words."""

import pytest

from appui.compare.rule_words import FACT_WORDS, condition_words
from appui.style.situation import FACTS
from appui.style.table import load_style, style_names


def test_every_fact_has_words() -> None:
    """A rule may ask for any of them."""
    assert list(FACTS) == list(FACT_WORDS)


@pytest.mark.parametrize("name", style_names())
def test_no_rule_is_told_in_names_of_the_code(name: str) -> None:
    """No underscore, no sign of comparison."""
    told = [condition_words(rule) for rule in load_style(name).rules]
    assert [] == [words for words in told if set("_<>{}") & set(words)]


def test_conditions_are_told_as_a_musician_would() -> None:
    """The first rule of C.P.E. Bach's on small notes under a syncopation."""
    told = [condition_words(rule) for rule in load_style("bach-1753").rules]
    assert "small notes; before a syncopated note; its note is not tied on" in told
