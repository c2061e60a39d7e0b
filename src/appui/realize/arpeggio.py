"""The arpeggio: the notes of a chord one after another, lowest first unless its arrow points down, all of them held.

    upwards        | lowest, next, … highest

The first note stands on the beat. Each note loses only what it waits: the chord ends together. A small note before
the chord takes its time from its own chord note, counted from the moment that note comes: so an arpeggio and a small
note delay their own notes only (Grove's Dictionary vol. 1, 1879, pp. 78-79, read, of small notes). Chords with one
`number` are broken as one, over all staves (MusicXML 4.0 `arpeggiate`, read). 45 ms a note is a design choice.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand
from appui.realize.quick import q_of_ms

__all__ = ["arpeggio"]

EACH_MS = Fraction(45)


def arpeggio(stand: Stand) -> Cut:
    """The note later by its place in the chord; the last at most half of the chord late."""
    place = stand.rank if stand.reading.get("shape") != "down" else stand.broken - 1 - stand.rank
    each_q = q_of_ms(stand.reading.fraction("ms", EACH_MS), stand.qpm)
    if stand.broken > 1:
        each_q = min(each_q, stand.room_q / 2 / (stand.broken - 1))
    return Cut(stand.start_q + each_q * place, stand.end_q, main_role="main")
