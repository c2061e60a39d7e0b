"""Notes before the beat: small notes that lead into their note, and those that end a trill.

    before         previous note, shortened | small notes | main note, on its beat, whole
    termination    trilled note, shortened  | small notes | main note

Türk 1789, III §27-29 (read): they fall in the time of the note before, are played when it is almost over, and
slurred. The engine gives them at most half of what precedes. Default lengths are medians of performances (sources:
(n)ASAP, computed): 95 ms for one note, 180 for two, 200 for three, 60 more for each further one. They are 2 dB softer
than the level around (design choice: measured velocities before the beat are lower).
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Before, Stand, Tone
from appui.realize.quick import SOFTER_DB, fill, off_beat_ms, q_of_ms

__all__ = ["before", "termination"]

TERMINATION_MS = 85


def before(stand: Stand) -> Before:
    """What small notes before the beat ask for, and its tones in what they are given."""
    default_ms = off_beat_ms(len(stand.sign.small))
    share = stand.reading.number("share")
    wanted_q = (
        share * stand.whole_q if share is not None else q_of_ms(stand.reading.fraction("ms", default_ms), stand.qpm)
    )

    def given(start_q: Fraction, length_q: Fraction) -> tuple[Tone, ...]:
        return fill(stand, start_q, length_q, "before", (SOFTER_DB,))

    return Before(wanted_q, given)


def termination(stand: Stand) -> Before:
    """The printed end of a trill, at the speed of the trill."""
    count = len(stand.sign.small)
    wanted_q = q_of_ms(stand.reading.fraction("ms", Fraction(TERMINATION_MS * count)), stand.qpm)

    def given(start_q: Fraction, length_q: Fraction) -> tuple[Tone, ...]:
        return fill(stand, start_q, length_q, "termination")

    return Before(wanted_q, given)
