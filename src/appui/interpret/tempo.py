"""The practice tempo a player asks for: a percentage of the written tempo or beats a minute.

A practice tempo is a percentage (``60%``) or beats a minute for the first bar's beat (``72``); later tempo changes keep
their proportion. Several movements have a percentage only: a number would be the tempo of the first. `slowing` says
what happens to ornaments: ``scaled`` (realized at the written tempo, then slowed) or ``natural`` (realized at the
practice tempo: what is given in milliseconds keeps its length, trills their speed).
"""

from __future__ import annotations

import re

from appui.errors import UsageError
from appui.exact import Fraction, fraction_of
from appui.score.model import Score
from appui.score.movements import movements

__all__ = ["tempo_factor"]

_WISH = re.compile(r"(\d{1,6}(?:\.\d{1,3})?)\s*(%?)")


def tempo_factor(wish: str | None, score: Score) -> Fraction:
    """What to multiply the written tempo by; 1 for `None`.

    Raises `UsageError` for anything but a percentage or beats a minute.
    """
    if wish is None:
        return Fraction(1)
    match = _WISH.fullmatch(wish.strip())
    if not match:
        raise UsageError(f"tempo {wish!r} is neither a percentage such as 60% nor beats a minute such as 72")
    number = fraction_of(match.group(1))
    if match.group(2):
        if not 5 <= number <= 400:
            raise UsageError(f"tempo {wish} is outside 5% to 400%")
        return number / 100
    if not 5 <= number <= 600:
        raise UsageError(f"tempo {wish} is outside 5 to 600 beats a minute")
    found = movements(score)
    if len(found) > 1:
        listed = ", ".join(each.name for each in found)
        raise UsageError(
            f"tempo {wish} is beats a minute, and the movements ({listed}) have tempos of their own: name one with "
            "--movement, or write a percentage such as 60%"
        )
    return number * score.bars[0].meter.beat_q / score.tempos[0].qpm
