"""Decimals with a point, for libraries that write numbers as the process's locale has them.

verovio prints coordinates with the decimal sign of `LC_NUMERIC`. Python itself leaves that at ``C``, but a program
around us may have set it to the player's language: a comma in a coordinate makes another picture.
"""

from __future__ import annotations

import locale
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["decimal_point"]


@contextmanager
def decimal_point() -> Iterator[None]:
    """Numbers as in the language C while the block, or the function decorated, runs."""
    before = locale.setlocale(locale.LC_NUMERIC)
    locale.setlocale(locale.LC_NUMERIC, "C")
    try:
        yield
    finally:
        locale.setlocale(locale.LC_NUMERIC, before)
