"""One part while a notation is read: bars, events and small notes in the order of the print, into a `RawPart`.

Where small notes belong, in every notation that gives them a place between notes but no owner:
- to the next full-size note of their voice in the bar, as a rule;
- to the note before, as after-notes, when no note of their voice follows in the bar, or a rest does.

Notes are counted as MusicXML would write them, one element a note of a chord, so that a score written as MusicXML has
its notes in the order of these numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from appui.exact import Fraction
from appui.score.model import Meter, Ornament, SmallNote
from appui.score.raw import RawBar, RawEvent, RawPart

__all__ = ["Gatherer", "Spot"]


@dataclass(slots=True)
class Spot:
    """Where a printed note has come to stand: its event, once that is known, and which of the event's notes it is.

    `side` is empty for a full-size note, ``before`` or ``after`` for a small one; `index` is `None` for a whole chord.
    """

    event: RawEvent | None = None
    side: str = ""
    index: int | None = None

    def small(self) -> SmallNote | None:
        """The small note that stands here; `None` for a full-size one."""
        if self.event is None or not self.side:
            return None
        group = self.event.before if self.side == "before" else self.event.after
        return group[self.index or 0]

    def put_small(self, note: SmallNote) -> None:
        """Put another small note in the place of the one here."""
        assert self.event is not None
        index = self.index or 0
        if self.side == "before":
            self.event.before = (*self.event.before[:index], note, *self.event.before[index + 1 :])
        else:
            self.event.after = (*self.event.after[:index], note, *self.event.after[index + 1 :])

    def hang(self, ornament: Ornament) -> None:
        """Print a sign on the note; on a rest it says nothing."""
        small = self.small()
        if small is not None:
            self.put_small(small._replace(ornaments=(*small.ornaments, ornament)))
        elif self.event is not None and self.event.notes:
            notes, index = self.event.notes, self.index or 0
            changed = notes[index]._replace(ornaments=(*notes[index].ornaments, ornament))
            self.event.notes = (*notes[:index], changed, *notes[index + 1 :])

    def mark(self, articulation: str) -> None:
        """Print an articulation on the note."""
        small = self.small()
        if small is not None:
            self.put_small(small._replace(articulations=small.articulations | {articulation}))
        elif self.event is not None:
            self.event.articulations |= {articulation}

    def tie(self, *, start: bool = False, stop: bool = False) -> None:
        """Tie the note on (`start`) or back; of a chord without an index, all its notes."""
        small = self.small()
        if small is not None:
            self.put_small(small._replace(tied_on=small.tied_on or start))
        elif self.event is not None and self.event.notes:
            self.event.tied = True
            self.event.ties = tuple(
                (on or start, back or stop) if self.index in (None, place) else (on, back)
                for place, (on, back) in enumerate(self.event.ties)
            )

    def slur_to(self, stop: Spot, number: str) -> None:
        """Slur from this note to another; `number` tells the slurs of a part apart.

        A slur inside a group of small notes and its own note is no slur of the events.
        """
        small = self.small()
        if small is not None:
            self.put_small(small._replace(slur_start=True))
        small = stop.small()
        if small is not None:
            stop.put_small(small._replace(slur_stop=True))
        if self.event is not None and stop.event is not None and self.event is not stop.event:
            self.event.slur_starts += (number,)
            stop.event.slur_stops += (number,)


_Waiting: TypeAlias = tuple[SmallNote, list[Spot]]


class Gatherer:
    """Gathers one part; `begin_bar`, then its events voice by voice, then `end_bar`; `finish` after the last bar."""

    def __init__(self, part: RawPart) -> None:
        self.part = part
        self._count = 0
        self._waiting: dict[str, list[_Waiting]] = {}
        self._last: dict[str, RawEvent] = {}

    def begin_bar(self, number: str, meter: Meter | None = None, *, implicit: bool = False) -> RawBar:
        """The next bar of the part."""
        bar = RawBar(number, implicit, meter=meter)
        self.part.bars.append(bar)
        return bar

    @property
    def bar(self) -> RawBar:
        """The bar that is being read."""
        return self.part.bars[-1]

    @property
    def index(self) -> int:
        """The index of the bar that is being read, from 0."""
        return len(self.part.bars) - 1

    def count(self, notes: int = 1) -> int:
        """The number of the next note element, from 0; `notes` of them are taken."""
        first = self._count
        self._count += max(notes, 1)
        return first

    def add(self, event: RawEvent) -> None:
        """The next chord, note or rest of its voice; small notes that wait for it are handed over."""
        waiting = self._waiting.pop(event.voice, None)
        previous = self._last.get(event.voice)
        if waiting and event.notes:
            _give(waiting, event, "before")
        elif waiting and previous is not None and previous.notes:
            _give(waiting, previous, "after")
        elif waiting:
            self._leave_out(waiting, "small notes stand between rests: left out")
        self.part.events.append(event)
        self._last[event.voice] = event
        self.bar.has_notes = True
        self.reach(event.stop_q)

    def reach(self, at_q: Fraction) -> None:
        """Say how far the bar goes at least."""
        self.bar.content_q = max(self.bar.content_q, at_q)

    def small(self, voice: str, note: SmallNote, spots: list[Spot]) -> None:
        """The next small note, or chord of them, of a voice; `spots` are told where it comes to stand."""
        self._waiting.setdefault(voice, []).append((note, spots))

    def end_bar(self) -> None:
        """No note of the bar is left: what waits follows the last note of its voice, or waits for the next bar."""
        for voice in list(self._waiting):
            self._release(voice, end_of_bar=True)

    def finish(self) -> RawPart:
        """No bar is left; returns the part."""
        for voice in list(self._waiting):
            self._release(voice, end_of_bar=False)
        return self.part

    def _release(self, voice: str, *, end_of_bar: bool) -> None:
        waiting = self._waiting.get(voice)
        previous = self._last.get(voice)
        if not waiting:
            return
        if previous is not None and previous.notes and (previous.bar == self.index or not end_of_bar):
            _give(self._waiting.pop(voice), previous, "after")
        elif not end_of_bar:
            self._leave_out(self._waiting.pop(voice), "small notes belong to no note: left out")

    def _leave_out(self, waiting: list[_Waiting], text: str) -> None:
        number = self.part.bars[-1].number if self.part.bars else ""
        self.part.notice(f"part {self.part.name}, bar {number}, line {waiting[0][0].line}", text)


def _give(waiting: list[_Waiting], event: RawEvent, side: str) -> None:
    notes = tuple(note for note, _ in waiting)
    first = len(event.before if side == "before" else event.after)
    if side == "before":
        event.before += notes
    else:
        event.after += notes
    for index, (_, spots) in enumerate(waiting, first):
        for spot in spots:
            spot.event, spot.side, spot.index = event, side, index
