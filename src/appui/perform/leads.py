"""Who leads: the note that is heard as the upper voice at each moment."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from appui.perform.sheet import Sheet

if TYPE_CHECKING:
    from appui.perform.sheet import Column, Flags

__all__ = ["MOMENT_Q", "lead_of", "moments"]

_TICKS = 960
#  what ends so shortly after a moment is over
MOMENT_Q = 1e-4


def lead_of(sheet: Sheet) -> Flags:
    """Which notes lead: the top of the solo where it sounds, else the highest of all that sounds."""
    highest = _highest(sheet, np.ones(len(sheet.rows), bool))
    if sheet.solo is None or sheet.lone:
        return sheet.pitch >= highest
    own = sheet.part == sheet.solo
    solo = _highest(sheet, own)
    return np.where(np.isfinite(solo), own & (sheet.pitch >= solo), sheet.pitch >= highest)


def _highest(sheet: Sheet, chosen: Flags) -> Column:
    """For each note the highest of the chosen ones that sound when it begins; minus infinity where none does."""
    out = np.full(len(sheet.rows), -np.inf)
    sounding: list[tuple[float, float]] = []  # end, pitch
    for first, last in moments(sheet):
        now_q = sheet.onset_q[first]
        sounding = [note for note in sounding if note[0] > now_q + MOMENT_Q]
        sounding += [(sheet.end_q[row], sheet.pitch[row]) for row in range(first, last) if chosen[row]]
        out[first:last] = max((pitch for _, pitch in sounding), default=-np.inf)
    return out


def moments(sheet: Sheet) -> Iterator[tuple[int, int]]:
    """The rows that begin together: first, and the one after the last."""
    ticks = np.round(sheet.onset_q * _TICKS)
    bounds = [0, *(np.flatnonzero(np.diff(ticks)) + 1).tolist(), len(ticks)]
    return pairwise(bounds) if len(ticks) else iter(())
