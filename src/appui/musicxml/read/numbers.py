"""Numbers out of a score file: exact, bounded, and with an error that says where.

Bounds are this tool's own, wide enough for any music: they keep one absurd number in a file from costing hours or
gigabytes later.
"""

from __future__ import annotations

import re
from functools import lru_cache

from appui.errors import ScoreError
from appui.exact import Fraction, fraction_of

__all__ = ["MAX_DIVISIONS", "MAX_DURATION_Q", "Where", "decimal", "integer"]

MAX_DURATION_Q = 10_000
MAX_DIVISIONS = 10_000_000
_DECIMAL = re.compile(r"[+-]?(\d{1,18}(\.\d{0,18})?|\.\d{1,18})")


class Where:
    """Where the reader stands: file, part and bar, for messages."""

    __slots__ = ("bar", "file", "part")

    def __init__(self, file: str, part: str = "", bar: str = "") -> None:
        self.file, self.part, self.bar = file, part, bar

    def place(self, line: int | None = None) -> str:
        """``part P1, bar 3, line 120``, as far as known."""
        named = [f"part {self.part}" if self.part else "", f"bar {self.bar}" if self.bar else ""]
        return ", ".join([word for word in named if word] + ([f"line {line}"] if line else []))

    def error(self, problem: str, remedy: str, line: int | None = None) -> ScoreError:
        """The error to raise here."""
        return ScoreError(self.file, problem, remedy, place=self.place(line))


def decimal(
    text: str | None, what: str, where: Where, line: int | None, low: Fraction | int, high: Fraction | int
) -> Fraction:
    """A decimal number as a `Fraction` within `low` to `high`; raises `ScoreError` naming `what` and the place."""
    number = (text or "").strip()
    if number.isascii() and number.isdigit() and len(number) < 10 and low <= int(number) <= high:
        return _parsed(number)  # the usual case, without comparing fractions
    if not _DECIMAL.fullmatch(number):
        raise where.error(f"{what} is {number[:40]!r}, not a number", "correct it in the file or export it again", line)
    value = _parsed(number)
    if not low <= value <= high:
        raise where.error(
            f"{what} is {number}, outside {low} to {high}", "correct it in the file or export it again", line
        )
    return value


@lru_cache(maxsize=4096)
def _parsed(number: str) -> Fraction:
    return fraction_of(number)


def integer(text: str | None, what: str, where: Where, line: int | None, low: int, high: int) -> int:
    """A whole number within bounds; a decimal such as ``4.0`` is accepted when it is whole."""
    number = (text or "").strip()
    if number.isascii() and number.isdigit() and len(number) < 10 and low <= int(number) <= high:
        return int(number)
    value = decimal(text, what, where, line, low, high)
    if value.denominator != 1:
        raise where.error(f"{what} is {text}, not a whole number", "correct it in the file or export it again", line)
    return int(value)
