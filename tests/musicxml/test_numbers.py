"""Numbers out of a score file: exact, bounded, refused with their place."""

import pytest

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.musicxml.read.numbers import Where, decimal, integer

WHERE = Where("page.musicxml", "P1", "3")


@pytest.mark.parametrize(
    ("text", "value"), [("4", Fraction(4)), (" 1.5 ", Fraction(3, 2)), (".25", Fraction(1, 4)), ("-2", Fraction(-2))]
)
def test_a_decimal_is_exact(text: str, value: Fraction) -> None:
    """No rounding on the way."""
    assert value == decimal(text, "duration", WHERE, None, -10, 10)


@pytest.mark.parametrize("text", [None, "", "1/2", "four", "1e3", "½", "nan", "9" * 40])
def test_what_is_no_number_is_refused(text: str | None) -> None:
    """With file, place and what it was to be."""
    with pytest.raises(ScoreError, match=r"page\.musicxml, part P1, bar 3, line 7: duration is .*, not a number"):
        decimal(text, "duration", WHERE, 7, 0, 10)


@pytest.mark.parametrize("text", ["-1", "11", "10.5"])
def test_what_is_out_of_bounds_is_refused(text: str) -> None:
    """With the bounds."""
    with pytest.raises(ScoreError, match="outside 0 to 10"):
        decimal(text, "duration", WHERE, 7, 0, 10)


def test_a_whole_number_may_be_typed_as_a_decimal() -> None:
    """As some programs do; a half is none."""
    assert 4 == integer("4.0", "voice", WHERE, None, 0, 10)
    with pytest.raises(ScoreError, match="not a whole number"):
        integer("4.5", "voice", WHERE, None, 0, 10)
