"""The phrases of a voice, where each goes, and whether it has been said before.

A phrase ends with a fermata, a breath, a close, a rest of a beat or more, at the latest with its fourth bar; it has a
bar at least. Where it goes is its last note. Common practice, no source: the numbers are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.harmony.ground import SURE, Ground
from appui.harmony.spelling import class_of
from appui.score.model import Event, Score

__all__ = ["Phrase", "is_close", "late_q", "phrases_of"]

_MOST_BARS = 4


class Phrase(NamedTuple):
    """One phrase: indices of its first and last note with notes in the voice; `said`: where the like began before."""

    first: int
    last: int
    said: int | None = None

    def place(self, index: int) -> float:
        """How far an event is on the way to the goal, 0..1."""
        return (index - self.first) / max(self.last - self.first, 1)


def phrases_of(score: Score, events: Sequence[Event], ground: Ground) -> tuple[Phrase, ...]:
    """The phrases of a voice in order; rests lie between them."""
    found: list[Phrase] = []
    first: int | None = None
    last = 0
    for index, event in enumerate(events):
        if not event.notes:
            continue
        first, last = index if first is None else first, index
        if _ends(score, events, ground, first, index):
            found.append(_known(events, found, Phrase(first, last)))
            first = None
    if first is not None:
        found.append(_known(events, found, Phrase(first, last)))
    return tuple(found)


def _known(events: Sequence[Event], before: Sequence[Phrase], phrase: Phrase) -> Phrase:
    """A phrase with where the like has been said: the same steps and values in its first bar, on whatever degree."""
    shape = _shape(events, phrase)
    same = next((other.first for other in before if len(shape) > 2 and _shape(events, other) == shape), None)
    return phrase._replace(said=same)


def _shape(events: Sequence[Event], phrase: Phrase) -> tuple[tuple[int, Fraction], ...]:
    start = events[phrase.first]
    head = [event for event in events[phrase.first : phrase.last + 1] if event.bar == start.bar]
    base = start.top.sounding.diatonic
    return tuple((event.top.sounding.diatonic - base if event.notes else 99, event.duration_q) for event in head)


def _ends(score: Score, events: Sequence[Event], ground: Ground, first: int, index: int) -> bool:
    event, following = events[index], events[index + 1] if index + 1 < len(events) else None
    if event.fermata is not None or event.pauses or following is None:
        return True
    bars = following.bar - events[first].bar
    if bars < 1:
        return False
    rests = not following.notes and following.duration_q >= score.bars[following.bar].meter.beat_q
    before = events[index - 1] if index > first else None
    closes = before is not None and is_close(score, ground, before, event)
    return rests or closes or (bars >= _MOST_BARS and following.bar > event.bar)


def is_close(score: Score, ground: Ground, event: Event, following: Event) -> bool:
    """A note a step from the tonic over the dominant, then the tonic over its chord on a strong beat."""
    if not event.notes or not following.notes or following.onset_q != event.end_q:
        return False
    # the harmony is asked last: it takes the longest
    bar = score.bars[following.bar]
    strong_q = bar.meter.bar_q / (2 if bar.meter.beats % 4 == 0 else 1)
    if (
        abs(following.top.sounding.diatonic - event.top.sounding.diatonic) != 1
        or event.duration_q < bar.meter.beat_q
        or (following.onset_q - bar.onset_q + bar.lead_q) % strong_q
    ):
        return False
    here, there = ground.at(late_q(event)), ground.at(following.onset_q)
    if here is None or there is None or min(here.chance, there.chance) < SURE:
        return False
    tonic = class_of(there.root)
    return (
        class_of(here.root) == (tonic + 7) % 12
        and here.dominant
        and there.bass is not None
        and class_of(there.bass) == tonic
        and int(following.top.sounding.midi) % 12 == tonic
    )


def late_q(event: Event) -> Fraction:
    """Three quarters through a note: where the harmony it goes on with has come."""
    return event.onset_q + event.duration_q * Fraction(3, 4)
