"""Exact time: the fractions everything is counted in until it is performed.

`Fraction` is that of quicktions, the standard library's in C: the same results, signatures and hashes in less time. It
is no subclass of `fractions.Fraction`, so all modules take it from here; the two compare, hash and add up alike.

Text goes through `fraction_of`. Made from a text of one character, quicktions (1.24 and before) writes into the zero
byte that all of Python shares; the types told to mypy (`exact.pyi`) therefore know no `Fraction` from text.

`Fraction` is registered as a `numbers.Rational`, as the standard library's is.
"""

from numbers import Rational

from quicktions import Fraction

from appui.errors import UsageError

__all__ = ["Fraction", "Number", "fraction_from", "fraction_of"]

Rational.register(Fraction)
#  what a caller may give where a fraction is meant
Number = int | float | Rational


def fraction_of(text: str) -> Fraction:
    """The number a text says, as `fractions.Fraction` reads it: ``3``, ``-1.5``, ``2/3``, ``1e3``.

    Raises `ValueError` where it says none, `ZeroDivisionError` for ``1/0``.
    """
    return Fraction(f" {text}")


def fraction_from(number: Number, what: str, low: int, high: int) -> Fraction:
    """A caller's number as a fraction; a `float` as the decimal it is printed as.

    Raises `UsageError`, naming it as `what`, for anything but a number from `low` to `high`.

    >>> fraction_from(0.1, "share", 0, 1)
    Fraction(1, 10)
    """
    if isinstance(number, bool) or not isinstance(number, float | Rational) or not low <= number <= high:
        raise UsageError(f"{what} is {number!r}, not a number from {low} to {high}")
    return fraction_of(repr(number)) if isinstance(number, float) else Fraction(number)
