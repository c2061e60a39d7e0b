"""The fractions of exact time, held against the standard library's."""

import fractions
import operator
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction, fraction_of

NUMBERS = st.fractions(-(10**6), 10**6, max_denominator=10**6)


def ours(value: fractions.Fraction) -> Fraction:
    return Fraction(value.numerator, value.denominator)


@given(NUMBERS, NUMBERS)
def test_sums_products_and_order_are_the_standard_ones(a, b):
    """Every operation on times gives what `fractions.Fraction` gives."""
    for operation in (operator.add, operator.sub, operator.mul, operator.lt, operator.le, operator.eq, max, min):
        assert operation(a, b) == operation(ours(a), ours(b))
    for operation in (operator.truediv, operator.floordiv, operator.mod, divmod):
        if b:
            assert operation(a, b) == operation(ours(a), ours(b))


@given(NUMBERS)
def test_one_number_is_one_key(a):
    """Hash, text, rounding, float and pickle are the standard ones, so both find one entry of a dictionary."""
    assert {a: 1}[ours(a)]
    assert (str(a), float(a), round(a), a.limit_denominator(100)) == (
        str(ours(a)),
        float(ours(a)),
        round(ours(a)),
        ours(a).limit_denominator(100),
    )
    assert a == pickle.loads(pickle.dumps(ours(a)))  # noqa: S301 - what was just made


@given(st.from_regex(r"\A[ +-]?[0-9]{0,8}([./][0-9]{0,8})?([eE]-?[0-9]{1,2})?\Z") | st.text(max_size=3))
def test_text_is_read_as_the_standard_library_reads_it(text):
    """The same numbers, and no number where it finds none."""
    try:
        expected = fractions.Fraction(text)
    except (ValueError, ZeroDivisionError) as error:
        with pytest.raises(type(error)):
            fraction_of(text)
    else:
        assert expected == fraction_of(text)


def test_one_digit_leaves_the_zero_byte_alone():
    """A text of one digit does not write into the zero byte that all of Python shares."""
    for digit in "0123456789":
        assert int(digit) == fraction_of(digit)
        assert bytes(2)[:1].decode() == "\N{NULL}"
