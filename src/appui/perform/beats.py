"""The beats of a score, in order of time, with what each holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from appui.exact import Fraction
from appui.perform.sheet import Sheet
from appui.score.model import Score

if TYPE_CHECKING:
    from appui.perform.sheet import Column

__all__ = ["MOMENT_Q", "Beats", "beats_of"]

#  two moments so near are one
MOMENT_Q = 1e-3
_TICKS = 960


@dataclass(frozen=True, eq=False)
class Beats:
    """The beats of a score on its printed time line, with its notes; `bar` the index of each beat's bar."""

    sheet: Sheet
    exact_q: tuple[Fraction, ...]
    exact_end_q: tuple[Fraction, ...]
    bar: tuple[int, ...]

    @cached_property
    def onset_q(self) -> Column:
        """Where each beat begins."""
        return np.array([float(at) for at in self.exact_q])

    @cached_property
    def end_q(self) -> Column:
        """Where each beat ends."""
        return np.array([float(at) for at in self.exact_end_q])

    @cached_property
    def length_q(self) -> Column:
        """How long each beat is."""
        return self.end_q - self.onset_q

    @cached_property
    def moments(self) -> Column:
        """The moments at which something is struck, each once, in order."""
        found: Column = np.unique(np.round(self.sheet.onset_q * _TICKS)) / _TICKS
        return found

    def flags(self, starts_q: Sequence[float], ends_q: Sequence[float]) -> Column:
        """1 for the beats that begin within one of these stretches."""
        out = np.zeros(len(self.onset_q))
        for start_q, end_q in zip(starts_q, ends_q, strict=True):
            out[(self.onset_q >= start_q - MOMENT_Q) & (self.onset_q < end_q - MOMENT_Q)] = 1
        return out


def beats_of(sheet: Sheet) -> Beats:
    """The beats of every bar: whole beats of the meter counted from where a pickup would begin, the last as it is."""
    found = [beat for bar in sheet.score.bars for beat in _beats_in(bar.index, sheet.score)]
    onsets, ends, bars = zip(*found, strict=True) if found else ((), (), ())
    return Beats(sheet, tuple(onsets), tuple(ends), tuple(bars))


def _beats_in(index: int, score: Score) -> Iterator[tuple[Fraction, Fraction, int]]:
    bar = score.bars[index]
    beat_q = bar.meter.beat_q
    at_q = Fraction(0)
    while at_q < bar.length_q:
        end_q = min((at_q + bar.lead_q) // beat_q * beat_q + beat_q - bar.lead_q, bar.length_q)
        yield bar.onset_q + at_q, bar.onset_q + end_q, index
        at_q = end_q
