"""How much of a movement is varied."""

import pytest

from appui.embellish.coverage import balanced
from appui.embellish.model import Place
from appui.embellish.phrases import Phrase
from appui.exact import Fraction
from appui.plan.embellishment import Span
from appui.score.model import Event, Note
from appui.score.pitch import Pitch

NOTE = (Note(Pitch("C", 0, 5), Pitch("C", 0, 5)),)
EVENTS = [Event(Fraction(at), Fraction(1), at // 4, NOTE) for at in range(8)]


def place(first: int, kind: str = "long-notes") -> Place:
    """A place over one quarter note."""
    return Place(f"oboe.{first}", kind, Span(0, 0, first, first, False), "made up", "made up")


def taken(amount: str, phrase: Phrase, *places: Place) -> list[int]:
    """The events whose places are varied."""
    return [each.span.first for each in balanced(places, [phrase], EVENTS, amount)[0]]


@pytest.mark.parametrize(("amount", "count"), [("sparse", 1), ("moderate", 4), ("rich", 7)])
def test_of_a_phrase_so_much_is_varied(amount: str, count: int) -> None:
    """Of eight quarters 18, 55 and 85 % (values of ours): the last of them goes in where half of it has room."""
    assert count == len(taken(amount, Phrase(0, 7), *map(place, range(8))))


def test_what_lies_nearer_to_the_goal_goes_first() -> None:
    """The goal itself last."""
    assert [6, 5, 4, 3] == taken("moderate", Phrase(0, 7), *map(place, range(8)))


def test_one_place_of_each_phrase_is_taken_at_least() -> None:
    """Though it is longer than its share."""
    assert [2] == taken("sparse", Phrase(0, 3), place(2))


def test_what_comes_again_is_varied_more() -> None:
    """Played plain the first time."""
    plain = taken("sparse", Phrase(0, 7), *map(place, range(8)))
    again = taken("sparse", Phrase(0, 7, said=0), *map(place, range(8)))
    assert len(again) > len(plain)
