"""What several commands share of their options."""

import click
import pytest
from click.testing import CliRunner, Result

from appui.cli.options import MOVEMENT, SLOWING, SOLO, STYLE, Between, options, wishes_of
from appui.exact import Fraction
from appui.interpret.wishes import Wishes


@click.command()
@MOVEMENT
@SLOWING
@options(SOLO, STYLE)
@click.option("--weight", type=Between(-12, 24))
@click.option("--hold", type=Between(1, 20))
@click.pass_context
def told(context: click.Context, /, **words: object) -> None:
    """Print the wishes of what was typed."""
    weight = words.pop("weight")
    context.obj.append(wishes_of(weight_db=weight, **words))


def run(*words: str) -> tuple[Result, Wishes | None]:
    """What becomes of some words, and the wishes they are."""
    kept: list[Wishes] = []
    done = CliRunner().invoke(told, words, obj=kept)
    return done, kept[0] if kept else None


def test_nothing_typed_is_no_wish() -> None:
    """What every player gets."""
    assert Wishes() == run()[1]


def test_numbers_are_exact_wishes() -> None:
    """A weight of 0.1 is a tenth."""
    _, wishes = run("--weight", "0.1", "--hold", "2.5", "--slow-trills", "3")
    assert wishes is not None
    assert Fraction(1, 10) == wishes.weight_db
    assert Fraction(5, 2) == wishes.hold
    assert 3 == wishes.slow_trills


def test_further_solos_are_solos_beside_the_first() -> None:
    """In the order they are typed."""
    _, wishes = run("--solo", "oboe", "--solo", "bassoon", "--solo", "3")
    assert wishes is not None
    assert ("oboe", ("bassoon", "3")) == (wishes.solo, wishes.also)


def test_what_is_kept_aside_reaches_the_wishes() -> None:
    """Movement and strokes, which no command sees."""
    _, wishes = run("--movement", "adagio", "--strokes", "ignore", "--style", "bach-1753")
    assert wishes is not None
    assert ("adagio", "ignore", "bach-1753") == (wishes.movement, wishes.strokes, wishes.style)


@pytest.mark.parametrize("number", ["nan", "25", "-13", "loud", "inf"])
def test_what_is_no_number_between_is_refused(number: str) -> None:
    """`nan` is neither below nor above."""
    done, wishes = run("--weight", number)
    assert (2, None) == (done.exit_code, wishes)
