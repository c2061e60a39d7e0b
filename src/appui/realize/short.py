"""The short grace: on the beat and gone at once, so that one hardly notices the main note loses anything.

    short          small notes, `ms` altogether | main: the rest

C.P.E. Bach 1753, 2.2 §13 (read): short ones stay short even in slow tempo, so their length is in milliseconds; it
never takes more than half of the main note. Default lengths are medians of performances (sources: (n)ASAP, computed):
75 ms for one note, 60 ms more for each further one.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand
from appui.realize.quick import fill, q_of_ms

__all__ = ["short"]

ONE_MS = 75
MORE_MS = 60


def short(stand: Stand) -> Cut:
    """The small notes at the start of the room."""
    default_ms = Fraction(ONE_MS + MORE_MS * (len(stand.sign.small) - 1))
    length_q = min(q_of_ms(stand.reading.fraction("ms", default_ms), stand.qpm), stand.room_q / 2)
    return Cut(stand.start_q + length_q, stand.end_q, fill(stand, stand.start_q, length_q, "short"))
