"""A dotted note of two compound beats; plans and styles that are found again."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from appui.demo import demo_score
from appui.exact import Fraction, fraction_of
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import read_score
from appui.plan.plan import plan_text
from appui.score.model import Bar, Event, Meter
from appui.style.reading import parse_reading
from appui.style.situation import _in_three
from appui.style.table import load_style


@pytest.mark.parametrize(
    ("meter", "length", "dots", "three"),
    [
        ((6, 8), "3/2", 1, True),
        ((6, 8), "3", 1, False),
        ((9, 8), "9/2", 0, True),
        ((3, 4), "3", 1, True),
        ((4, 4), "2", 0, False),
    ],
)
def test_what_has_three_parts(meter: tuple[int, int], length: str, dots: int, three: bool) -> None:
    """Half or two thirds hangs on it (C.P.E. Bach 1753, 2.2 §11, read): two compound beats are two parts."""
    bar = Bar(0, "1", Fraction(0), Meter(*meter).bar_q, Meter(*meter))
    assert three is _in_three(Event(Fraction(0), fraction_of(length), 0, dots=dots), bar)


def test_a_plan_is_toml_whatever_the_title() -> None:
    """TOML does not allow DEL in a text, files do."""
    score = replace(read_score(demo_score()), title="Evening\x7fAir")
    assert score.title == tomllib.loads(plan_text(score, "harmony", []))["score"]["title"]


def test_what_a_rule_also_allows_has_its_sizes() -> None:
    """A rule says `leaning {length}`; what the player may choose says how much that is here."""
    choices = interpret(demo_score()).choices.values()
    alternatives = [words for choice in choices for words in choice.alternatives]
    assert alternatives == [parse_reading(words).text for words in alternatives]


def test_a_style_of_ones_own_is_found_again_by_its_name(tmp_path: Path) -> None:
    """A plan keeps the style's name; loading it must give the same style."""
    path = tmp_path / "my.toml"
    path.write_text(
        '[style]\ntitle = "M"\n[[rule]]\nreading = "plain"\nwhy = "w"\ncite = "c"\nknown = "read"\n', "utf-8"
    )
    style = load_style(str(path))
    assert style == load_style(style.name)


def test_another_choice_is_told_beside_the_rule() -> None:
    """The words never say of a choice that the rule has made it, when the player chose otherwise."""
    chosen = interpret(demo_score(), Wishes(takes=("oboe.20.1=before", "oboe.4.1=leaning 1/2"))).choices
    assert "you chose before; the rule would have leaning 2/3" == chosen["oboe.20.1"].why
    assert "you chose leaning 1/2; the rule would have it so too" == chosen["oboe.4.1"].why
    assert chosen["oboe.20.1"].reason.startswith("you chose before")


@pytest.mark.parametrize(("old", "new"), [("hold 2 times", "hold 2 times as long"), ("passing", "before")])
def test_words_of_older_plans_are_understood(old: str, new: str) -> None:
    """A plan written before the words changed is still a plan."""
    assert new == parse_reading(old).text
