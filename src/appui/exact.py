"""Exact time: the fractions everything is counted in until it is performed.

`Fraction` is that of quicktions, the standard library's in C: the same results, signatures and hashes in less time. It
is no subclass of `fractions.Fraction`, so all modules take it from here; the two compare, hash and add up alike.

Text goes through `fraction_of`. Made from a text of one character, quicktions (1.24 and before) writes into the zero
byte that all of Python shares; the types told to mypy (`exact.pyi`) therefore know no `Fraction` from text.
"""

from quicktions import Fraction

__all__ = ["Fraction", "fraction_of"]


def fraction_of(text: str) -> Fraction:
    """The number a text says, as `fractions.Fraction` reads it: ``3``, ``-1.5``, ``2/3``, ``1e3``.

    Raises `ValueError` where it says none, `ZeroDivisionError` for ``1/0``.
    """
    return Fraction(f" {text}")
