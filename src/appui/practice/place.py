"""One ornament as a passage: as many whole bars around it as it needs to be played in time.

Before it there is a beat at least, to be in time and for small notes before the beat; after it, it has come to the
next note and one beat more. Nothing reaches over a repeat that leads back, or into another movement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from appui.errors import UsageError
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, in_solos
from appui.score.movements import movement_of, movements
from appui.score.signs import Sign, bar_names

__all__ = ["ORNAMENT", "bars_around", "doubtful_places"]

#  what a track of one ornament is where nothing else is said: heard, then played, from slow to fast
ORNAMENT: Mapping[str, Any] = {"mode": "echo", "tempo": ["50%..100%"], "steps": 4, "times": 2, "click": "beats"}
_BEATS_BEFORE, _BEATS_AFTER = 1, 1


def bars_around(player: Interpretation, place: str) -> str:
    """The bars to practise a sign in, as a range; raises `PlaceError` where there is no such sign."""
    score, sign = player.score, player.sign_at(place)
    bars, names = score.bars, bar_names(score)
    here = sign.main(score).bar
    whole = movement_of(movements(score), here)
    from_q = sign.onset_q(score) - _BEATS_BEFORE * bars[here].meter.beat_q
    until_q = _end_q(player, sign) + _BEATS_AFTER * bars[here].meter.beat_q
    first, last = here, here
    while first > whole.first and bars[first].onset_q > from_q:
        first -= 1
    while last < whole.last and bars[last].onset_q + bars[last].length_q < until_q and not bars[last].repeat_backward:
        last += 1
    return f"{names[first]}-{names[last]}"


def _end_q(player: Interpretation, sign: Sign) -> Fraction:
    """Where the note ends that the sign belongs to, with what is tied to it or written for it."""
    events = player.score.parts[sign.part].voices[sign.voice].events
    free = player.choices[sign.place].reading.free
    last = max(sign.event, free.last) if free is not None else sign.event
    while last + 1 < len(events) and any(note.tied_on for note in events[last].notes):
        last += 1
    return events[last].end_q


def doubtful_places(player: Interpretation) -> Sequence[str]:
    """The signs of the solos that are doubtful and that the player has not decided; raises `UsageError` for none."""
    found = [
        sign.place
        for sign in player.signs
        if in_solos(player, sign.part)
        and player.choices[sign.place].doubtful
        and player.choices[sign.place].by.startswith("style")
    ]
    if not found:
        raise UsageError("no ornament of the solo is doubtful and undecided; name places with --at")
    return found
