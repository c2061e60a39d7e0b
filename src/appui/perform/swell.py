"""The second shape of a leaning note: it begins softly, swells, and falls to its note.

Tartini c. 1750 (excerpt read): an appoggiatura should start softly, because it is only an appoggiatura; that it then
swells and falls is from memory. Written as expression (CC 11), whose level follows the same law as velocity, 40
log10(v / 127) dB (SoundFont 2.04, 8.4, read for velocity; for CC 11 checked on rendered audio). The note's velocity
stands for its loudest moment, at three fifths of its length.
"""

from __future__ import annotations

from collections.abc import Iterator

from appui.exact import Fraction
from appui.perform.model import Control
from appui.perform.tempo import Clock
from appui.realize.contract import Tone

__all__ = ["EXPRESSION", "swell"]

EXPRESSION = 11
FULL = 127
PEAK = Fraction(3, 5)
STEPS = 24


def swell(tone: Tone, clock: Clock, shift_q: Fraction) -> Iterator[Control]:
    """Expression over a tone, and full again where it ends."""
    for step in range(STEPS):
        share = Fraction(step, STEPS)
        below = (PEAK - share) / PEAK if share < PEAK else (share - PEAK) / (1 - PEAK)
        value = round(FULL * 10 ** (-float(tone.swell_db * below) / 40))
        yield _control(tone.onset_q + tone.duration_q * share + shift_q, value, clock)
    yield _control(tone.end_q + shift_q, FULL, clock)


def _control(onset_q: Fraction, value: int, clock: Clock) -> Control:
    return Control(onset_q, clock.seconds(onset_q), EXPRESSION, value)
