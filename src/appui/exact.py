"""Exact time: the standard library's fractions, and numbers that callers and files give read as such."""

from __future__ import annotations

from fractions import Fraction
from numbers import Rational

from appui.errors import UsageError

__all__ = ["Fraction", "Number", "fraction_from", "fraction_of"]

#  what a caller may give where a fraction is meant
Number = int | float | Fraction


def fraction_of(text: str) -> Fraction:
    """The number a text says: ``3``, ``-1.5``, ``2/3``, ``1e3``.

    Raises `ValueError` where it says none, `ZeroDivisionError` for ``1/0``.
    """
    return Fraction(text)


def fraction_from(number: Number, what: str, low: int, high: int) -> Fraction:
    """A caller's number as a fraction; a `float` as the decimal it is printed as.

    Raises `UsageError`, naming it as `what`, for anything but a number from `low` to `high`.

    >>> fraction_from(0.1, "share", 0, 1)
    Fraction(1, 10)
    """
    if isinstance(number, bool) or not isinstance(number, float | Rational) or not low <= number <= high:
        raise UsageError(f"{what} is {number!r}, not a number from {low} to {high}")
    return Fraction(repr(number)) if isinstance(number, float) else Fraction(number)
