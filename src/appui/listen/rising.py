"""When a note of the line begins while others ring, from the spectra a take has taught."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from appui.listen.align import Aligned
from appui.listen.frames import FRAME_S
from appui.listen.onsets import risen_at, shares_of
from appui.listen.take import Take

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["own_shares", "risen_s"]

#  a beginning is looked for so many frames around where it is expected, from so many before the earliest it may have,
#  and to so many after it at least
_RISING, _EARLIER, _LATER = 60, 20, 12


def risen_s(
    take: Take, aligned: Aligned, key: int, others: Sequence[int], expected: int, earliest: int, latest: int
) -> float:
    """When a note's own share of the sound rises, s, while `others` may ring; `expected` where that is not clear.

    `expected` is the frame where it begins, about; it lies between the frames `earliest` and `latest`.
    """
    # where two stretches of the line were cut differently, the note before may seem to begin later
    earliest = min(earliest, expected)
    first = max(earliest - _EARLIER, expected - _RISING, 0)
    last = min(max(latest, expected + _LATER), expected + _RISING, len(take.level_db))
    shares = None if key in others else own_shares(take, aligned, key, others, first, last)
    found = math.nan if shares is None else risen_at(shares[0], expected - first, max(earliest - first, 0))
    return expected * FRAME_S if math.isnan(found) else (first + found) * FRAME_S


def own_shares(
    take: Take, aligned: Aligned, key: int, others: Sequence[int], first: int, last: int
) -> NDArray[np.float64] | None:
    """How much of some frames is a note's (first row), and how much the others'; `None` where no spectra are known."""
    if aligned.spectra is None:
        return None
    known = aligned.fitting.keys
    keys = [key, *dict.fromkeys(other for other in others if other != key and other in known)]
    return shares_of(take, aligned.spectra[[known.index(each) for each in keys]], first, last)
