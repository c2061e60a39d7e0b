"""Breath marks and caesuras: silence out of the end of the note, so that the next one is not late.

    pause          | main, silence | next note

MusicXML defines no length ("slight pause", read): 150 ms for a breath, 350 for a caesura are design choices; never
more than half of the note, so in quick music it is a catch breath.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand
from appui.realize.quick import q_of_ms

__all__ = ["pause"]

#         sign          ms
SILENCE_MS = {"breath mark": 150, "caesura": 350}


def pause(stand: Stand) -> Cut:
    """The note, ended early."""
    ms = stand.reading.fraction("ms", Fraction(SILENCE_MS.get(stand.sign.kind, 150)))
    return Cut(stand.start_q, stand.end_q - min(q_of_ms(ms, stand.qpm), stand.room_q / 2), main_role="main")
