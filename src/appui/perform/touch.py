"""Touch: how long a note is held, and joining tied notes.

Slurred notes are held to their end; so is tenuto. Detached notes are held somewhat less than half (C.P.E. Bach 1753,
ch. 3 §17, read). A note with neither slur nor dot is held but for a short silence before the next stroke of the
tongue or bow: a design choice; Clementi 1801 (read) makes the full length the rule.
"""

from __future__ import annotations

from collections.abc import Iterable

from appui.realize.contract import Tone
from appui.score.model import Event

__all__ = ["HELD", "TONGUE_S", "held_share", "is_slurred_on", "join_ties"]

#        articulation       share of the note that is held
HELD = {
    "staccatissimo": 0.3,
    "staccato": 0.45,
    "spiccato": 0.45,
    "detached-legato": 0.75,
    "tenuto": 1.0,
}
TONGUE_S = 0.025
_ROLES_SLURRED_ON = frozenset({"lean", "short", "before", "trill", "after", "termination", "turn", "mordent", "slide"})


def held_share(tone: Tone) -> float:
    """Share of its length a tone is held, from its articulation; 1 where nothing is printed."""
    if tone.role in _ROLES_SLURRED_ON or tone.leads_on or not tone.event.articulations:
        return 1.0
    return next((share for name, share in HELD.items() if name in tone.event.articulations), 1.0)


def is_slurred_on(tone: Tone) -> bool:
    """Whether a tone leads into the next without a new stroke."""
    return tone.role in _ROLES_SLURRED_ON or tone.leads_on or tone.event.slur_on or "tenuto" in tone.event.articulations


def join_ties(tones: Iterable[Tone]) -> list[Tone]:
    """Tied notes become one: a tone tied on is joined to the one of its pitch that begins where it ends."""
    out: list[Tone | None] = []
    open_at: dict[tuple[object, object], int] = {}
    for tone in tones:
        key = (tone.onset_q, tone.pitch.midi)
        place = open_at.pop(key, None) if tone.tied_back else None
        if place is None:
            out.append(tone)
            place = len(out) - 1
        else:
            first = out[place]
            assert first is not None
            out[place] = first._replace(duration_q=tone.end_q - first.onset_q, event=_ending_as(first, tone))
        if tone.tied_on:
            open_at[(tone.end_q, tone.pitch.midi)] = place
    return [tone for tone in out if tone is not None]


def _ending_as(first: Tone, last: Tone) -> Event:
    """The joined note is struck as the first was and left as the last is."""
    return first.event._replace(slur_on=last.event.slur_on)
