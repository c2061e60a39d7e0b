"""Several players: not quite together, as people are, and always in the same way.

Parts that begin together begin a few milliseconds apart: the solo on the moment, the others after it, each by an amount
that swings slowly with the place in the music. It is fixed by part and printed place, not by chance, so a bar sounds
alike each time, alone or in the whole; the notes of one part at one place stay together, an ornament stays whole. It is
less than `WIDEST_S`, too little to be heard as late (a design choice, no source). Nobody is moved where one player
plays everything.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence

from appui.exact import Fraction
from appui.perform.model import Control, PerformedNote, TempoStep
from appui.realize.contract import Tone

__all__ = ["WIDEST_S", "Lateness", "late_s"]

WIDEST_S = 0.0115
#  how many quarters a swing lasts: for each part another, none a bar or a phrase
_SWING_Q = (5.3, 7.1, 8.9, 11.7)
#  a shift is told in so many parts of a quarter
_PARTS = 1 << 14


def late_s(part: int, printed_q: float) -> float:
    """How long after the moment an accompanying part begins at a printed place, 0 to `WIDEST_S` seconds.

    >>> 0 < late_s(1, 8.0) < WIDEST_S
    True
    """
    swing = math.sin(2 * math.pi * (printed_q / _SWING_Q[part % len(_SWING_Q)] + 0.31 * part))
    return WIDEST_S * (0.5 + 0.49 * swing)


class Lateness:
    """Moves the notes of accompanying parts; `steps` are the tempos of the performed time line."""

    def __init__(self, steps: Sequence[TempoStep]) -> None:
        self._onsets = [float(step.onset_q) for step in steps]
        self._paces = [60.0 / float(step.qpm) for step in steps]

    def notes(self, part: int, tones: Iterable[Tone], notes: Iterable[PerformedNote]) -> Iterator[PerformedNote]:
        """The notes of a part, each as late as its tone's printed place says."""
        for tone, note in zip(tones, notes, strict=True):
            by_s = late_s(part, float(tone.printed_q))
            yield note._replace(onset_q=note.onset_q + self._quarters(note, by_s), onset_s=note.onset_s + by_s)

    def controls(self, part: int, tone: Tone, controls: Iterable[Control]) -> Iterator[Control]:
        """The controls over a tone, as late as it is."""
        by_s = late_s(part, float(tone.printed_q))
        for one in controls:
            yield one._replace(onset_q=one.onset_q + self._quarters(one, by_s), onset_s=one.onset_s + by_s)

    def _quarters(self, what: PerformedNote | Control, by_s: float) -> Fraction:
        pace_s = self._paces[max(bisect_right(self._onsets, float(what.onset_q)) - 1, 0)]
        return Fraction(round(by_s / pace_s * _PARTS), _PARTS)
