"""Long notes that swell and fade (messa di voce), where it is asked for.

A plain note of `LEAST_S` or more, of an instrument that can, begins softly, is loudest at three fifths of its length
and fades again, by `SWELL_DB` (common practice, no source for the figures). Written as expression (CC 11), which is the
whole part's: where other notes of the part begin or end meanwhile the note stays even.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from appui.exact import Fraction
from appui.perform.tempo import Clock
from appui.realize.contract import Tone

__all__ = ["LEAST_S", "SWELL_DB", "can_swell", "swelling"]

LEAST_S = 1.2
SWELL_DB = Fraction(4)
#  General MIDI (read), 0-based, first and last: bowed strings, string ensembles and voices, brass, reeds and flutes
_SUSTAINING = ((40, 44), (48, 54), (56, 79))
_PLAIN = frozenset({"plain", "main"})


def can_swell(program: int) -> bool:
    """Whether an instrument's tone can grow after it has begun.

    >>> can_swell(68), can_swell(6)
    (True, False)
    """
    return any(first <= program <= last for first, last in _SUSTAINING)


def swelling(tones: Sequence[Tone], clock: Clock) -> list[Tone]:
    """The tones of a part in order of time, its long notes made to swell."""
    found: list[Tone] = []
    ended_q = Fraction(-1)
    for tone, following in zip_longest(tones, tones[1:]):
        alone = ended_q <= tone.onset_q and (following is None or following.onset_q >= tone.end_q)
        long = alone and tone.role in _PLAIN and not tone.swell_db and _lasts_s(tone, clock) >= LEAST_S
        found.append(tone._replace(swell_db=SWELL_DB) if long else tone)
        ended_q = max(ended_q, tone.end_q)
    return found


def _lasts_s(tone: Tone, clock: Clock) -> float:
    begin_s, end_s = clock.span(tone.onset_q, tone.duration_q)
    return end_s - begin_s
