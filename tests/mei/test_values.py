"""What the attributes of one note say."""

import pytest
from lxml import etree

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.mei.page import Around
from appui.mei.values import articulations, dots_of, ratio_of, slash_of, slurs_of, strokes_of, ties_of
from appui.musicxml.read.numbers import Where

WHERE = Where("page.mei")


def node(text: str) -> etree._Element:
    """An element, as in a file."""
    return etree.fromstring(text)


@pytest.mark.parametrize(
    ("text", "ratio"),
    [
        ("<tuplet/>", Fraction(2, 3)),
        ("<tuplet num='5'/>", Fraction(4, 5)),
        ("<tuplet num='5' numbase='6'/>", Fraction(6, 5)),
        ("<tuplet num='2' numbase='3'/>", Fraction(3, 2)),
    ],
)
def test_a_tuplet_is_in_the_time_of_the_next_smaller_power_of_two(text: str, ratio: Fraction) -> None:
    """Unless the file says otherwise."""
    assert ratio == ratio_of(node(text), WHERE)


def test_a_tuplet_of_nothing_is_refused() -> None:
    """It would last for ever."""
    with pytest.raises(ScoreError, match="numbase is 0"):
        ratio_of(node("<tuplet num='3' numbase='0'/>"), WHERE)


@pytest.mark.parametrize(
    ("text", "dots"), [("<note dots='2'/>", 2), ("<note><dot/></note>", 1), ("<note dots='x'/>", 0)]
)
def test_dots_are_counted_as_attribute_or_drawn(text: str, dots: int) -> None:
    """The first of several elements that has any says it."""
    assert dots == dots_of(node("<note/>"), node(text))


def test_a_chord_s_articulations_are_its_notes_too() -> None:
    """As attributes and as elements; words that are none are passed over."""
    one, other = node("<note artic='stacc nothing'/>"), node("<chord><artic artic='ten acc'/></chord>")
    assert {"staccato", "tenuto", "accent"} == articulations(one, other)


def test_slurs_end_and_begin_under_one_attribute() -> None:
    """``t1 i2``; one in the middle does neither."""
    assert (("attribute 2",), ("attribute 1",)) == slurs_of(node("<note slur='t1 i2 m3'/>"))


@pytest.mark.parametrize(
    ("tie", "ends"), [("i", (True, False)), ("m", (True, True)), ("t", (False, True)), ("", (False, False))]
)
def test_a_tie_reaches_on_back_or_both(tie: str, ends: tuple[bool, bool]) -> None:
    """On, and back."""
    assert ends == ties_of(node(f"<note tie='{tie}'/>"))


def test_the_stroke_of_a_small_note() -> None:
    """Printed, said not to be there, or meant by its kind."""
    assert "1" == strokes_of(node("<note stem.mod='1slash'/>"))
    assert slash_of(Around(), "acc", node("<note stem.mod='1slash'/>")) is True
    assert slash_of(Around(), "unacc", node("<note stem.mod='none'/>")) is False
    assert [True, False, None] == [slash_of(Around(), grace, node("<note/>")) for grace in ("unacc", "acc", "unknown")]
