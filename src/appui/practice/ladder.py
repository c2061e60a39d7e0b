"""Tempos to practise at: one, several, or a ladder from a slow to a full one in equal steps."""

from __future__ import annotations

import re
from collections.abc import Iterable

from appui.errors import UsageError
from appui.exact import Fraction, fraction_of

__all__ = ["MOST_STEPS", "ladder", "tempos_of"]

MOST_STEPS = 50
_LADDER = re.compile(r"\s*(\d{1,4}(?:\.\d{1,3})?)\s*(%?)\s*\.\.\s*(\d{1,4}(?:\.\d{1,3})?)\s*(%?)\s*")


def tempos_of(words: Iterable[str], steps: int | None = None) -> tuple[str, ...]:
    """The tempos asked for, ladders drawn out; ``100%`` where none is. Raises `UsageError`."""
    found: list[str] = []
    for word in words:
        found += ladder(word, 6 if steps is None else steps) if ".." in word else [word.strip()]
    return tuple(found) or ("100%",)


def ladder(word: str, steps: int) -> list[str]:
    """Draw a ladder out.

    >>> ladder("50%..100%", 3)
    ['50%', '75%', '100%']
    """
    match = _LADDER.fullmatch(word)
    if not match or match.group(2) != match.group(4):
        raise UsageError(f"tempo {word!r} is no ladder such as 50%..100% or 60..96, both ends of one kind")
    if not 2 <= steps <= MOST_STEPS:
        raise UsageError(f"{steps} steps are no ladder; name 2 to {MOST_STEPS}")
    low, high = fraction_of(match.group(1)), fraction_of(match.group(3))
    if low == high:
        raise UsageError(f"tempo {word!r} ends where it begins; name two tempos, or one without ..")
    return [_written(low + (high - low) * step / (steps - 1)) + match.group(2) for step in range(steps)]


def _written(number: Fraction) -> str:
    return f"{float(number):.3f}".rstrip("0").rstrip(".")
