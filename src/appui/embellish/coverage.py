"""How much of a movement is varied: of each phrase so much as was asked for, what lies towards its goal first.

The shares are of the quarters of the solo's notes. A phrase that is new is varied less than one that comes again: the
first time plain or nearly so. That a slow movement bears more than a quick one: C.P.E. Bach 1753, 2.1 §19, p. 59, read;
the numbers are ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from appui.embellish.model import Place
from appui.embellish.phrases import Phrase
from appui.score.model import Event

__all__ = ["balanced"]

#  of the quarters of a phrase: where it is new, where it comes again
_SHARES = {"sparse": (0.18, 0.28), "moderate": (0.55, 0.65), "rich": (0.85, 0.95)}


def balanced(
    places: Iterable[Place], phrases: Sequence[Phrase], events: Sequence[Event], amount: str
) -> tuple[list[Place], list[Place]]:
    """The places in time to be varied, one of each phrase at least, and those left plain."""
    taken: list[Place] = []
    left: list[Place] = []
    waiting = list(places)
    for phrase in phrases:
        own = [place for place in waiting if phrase.first <= place.span.first <= phrase.last]
        whole_q = sum(event.duration_q for event in events[phrase.first : phrase.last + 1] if event.notes)
        again = phrase.said is not None or any(place.kind == "second-time" for place in own)
        room_q = float(whole_q) * _SHARES[amount][again]
        for count, place in enumerate(sorted(own, key=lambda each: _rank(phrase, each))):
            length_q = float(sum(event.duration_q for event in events[place.span.first : place.span.last + 1]))
            # a stretch goes in where at least half of it has room
            fits = count == 0 or room_q >= length_q / 2
            (taken if fits else left).append(place)
            room_q -= length_q if fits else 0
    known = {*taken, *left}
    return taken + [place for place in waiting if place not in known], left


def _rank(phrase: Phrase, place: Place) -> tuple[bool, float]:
    """What comes again first, then what lies nearer to the goal; the goal itself last."""
    at = phrase.place(place.span.first)
    return place.kind != "second-time", at if phrase.first < phrase.last == place.span.first else -at
