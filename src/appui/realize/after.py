"""After-notes (Nachschlag): small notes at the end of the note they follow.

    after          note, shortened | small notes

Türk 1789, III §27-29 (read): always in the time of the preceding note, only when it is almost over, very short,
slurred to it. They take at most half of the note.
"""

from __future__ import annotations

from appui.realize.contract import Cut, Stand
from appui.realize.quick import SOFTER_DB, fill, off_beat_ms, q_of_ms

__all__ = ["after"]


def after(stand: Stand) -> Cut:
    """The small notes at the end of the room."""
    default_ms = off_beat_ms(len(stand.sign.small))
    length_q = min(q_of_ms(stand.reading.fraction("ms", default_ms), stand.qpm), stand.whole_q / 2, stand.room_q / 2)
    end_q = stand.end_q - length_q
    return Cut(stand.start_q, end_q, tail=fill(stand, end_q, length_q, "after", (SOFTER_DB,)))
