"""What an edition hides: notes with ``print-object="no"`` that spell an ornament out for whoever plays the file.

They are the editor's realization, never a second part: they do not sound beside the ornament, and can be heard in its
place. An ornament that is printed on a hidden or silent note belongs to the visible note it stands over.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from operator import attrgetter

from appui.score.model import Event, Note, Part

__all__ = ["Spot", "hidden_events", "spelled_under", "visible_under"]

#  voice and event, as indices into a part
Spot = tuple[int, int]
_ONSET = attrgetter("onset_q")
#  letter steps an ornament's notes lie from its main note at the most
_NEAR = 4
_LEAST = 2


def hidden_events(part: Part) -> list[Spot]:
    """The events of a part whose notes are all hidden, rests not counted."""
    return [
        (voice, index)
        for voice, events in enumerate(part.voices)
        for index, event in enumerate(events.events)
        if event.notes and event.notes[0].hidden and all(note.hidden for note in event.notes)
    ]


def spelled_under(part: Part, hidden: list[Spot], spot: Spot, note: Note) -> tuple[Spot, ...]:
    """The hidden events that spell out an ornament on a note of the event at `spot`, in order of time; or none.

    They lie in other voices of the same staff, begin while the note lasts, and stay near it.
    """
    main = part.voices[spot[0]].events[spot[1]]
    found = [
        each
        for each in hidden
        if each[0] != spot[0]
        and main.onset_q <= _event(part, each).onset_q < main.end_q
        and _is_near(_event(part, each), note)
    ]
    return tuple(sorted(found, key=lambda each: _event(part, each).onset_q)) if len(found) >= _LEAST else ()


def _event(part: Part, spot: Spot) -> Event:
    return part.voices[spot[0]].events[spot[1]]


def _is_near(event: Event, note: Note) -> bool:
    return len(event.notes) == 1 and all(
        other.staff == note.staff and abs(other.written.diatonic - note.written.diatonic) <= _NEAR
        for other in event.notes
    )


def visible_under(part: Part, voice: int, event: Event, note: Note) -> Iterator[tuple[int, int, int]]:
    """Voice, event and note of the visible notes that a hidden or silent note stands over: same moment, same pitch."""
    for index, other in enumerate(part.voices):
        if index == voice:
            continue
        at = bisect_left(other.events, event.onset_q, key=_ONSET)
        if at < len(other.events) and other.events[at].onset_q == event.onset_q:
            for place, seen in enumerate(other.events[at].notes):
                if seen.written == note.written and not seen.hidden and not seen.cue:
                    yield index, at, place
