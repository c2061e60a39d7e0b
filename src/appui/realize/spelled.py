"""An ornament as the edition spells it out in hidden notes.

    spelled out    | the hidden notes at their times, then the main note for what is left

An editor's realization (``print-object="no"``) is played in the place of the ornament, never beside it; a gap between
its notes belongs to the note before the gap.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.realize.contract import Cut, Stand, Tone

__all__ = ["spelled"]


def spelled(stand: Stand) -> Cut:
    """The hidden notes in the main note's room, pressed together where that has become shorter."""
    inside = [(max(e.onset_q - stand.event.onset_q, Fraction(0)), e) for e in stand.spelled]
    inside = [(at_q, event) for at_q, event in inside if at_q < stand.whole_q]
    if not inside:
        return Cut(stand.start_q, stand.end_q, main_role="main", notice="the edition has no hidden notes here")
    scale = stand.room_q / stand.whole_q
    main, last = stand.note.sounding, inside[-1]
    over_q = min(last[0] + last[1].duration_q, stand.whole_q)
    spans = [(Fraction(0), main), *((at_q, event.notes[0].sounding) for at_q, event in inside), (over_q, main)]
    ends = [*(at_q for at_q, _ in spans[1:]), stand.whole_q]
    tones: list[Tone] = [
        stand.tone(stand.start_q + at_q * scale, (end_q - at_q) * scale, pitch, "trill")
        for (at_q, pitch), end_q in zip(spans, ends, strict=True)
        if end_q > at_q
    ]
    return Cut(stand.start_q, stand.end_q, body=tuple(tones), main_role="main")
