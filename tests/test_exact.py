"""Numbers that callers give, read as exact fractions."""

import fractions

import pytest

from appui.errors import UsageError
from appui.exact import fraction_from


@pytest.mark.parametrize("given", [0.1, fractions.Fraction(1, 10)])
def test_a_number_is_what_it_is_printed_as(given) -> None:
    """A float is meant as the decimal one sees, not as the binary number nearest to it."""
    assert fractions.Fraction(1, 10) == fraction_from(given, "share", 0, 1)


@pytest.mark.parametrize("given", [True, "1/2", None, float("nan"), 2, -0.1])
def test_what_is_no_number_in_the_range_is_refused(given) -> None:
    """The error names what was to be given, what came and what would do."""
    with pytest.raises(UsageError, match=r"share is .*, not a number from 0 to 1"):
        fraction_from(given, "share", 0, 1)
