"""Where an element beside the notes stands: at the note it points to, or at a beat of a staff.

`tstamp` counts beats of the meter from 1, `tstamp2` bars and beats from the bar the element is in: ``1m+2.5`` (MEI 5.0,
attribute classes att.controlEvent and att.timestamp2, memory). Beats are decimals, which thirds of a beat do not come
out in: what falls close to a note is at that note.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from appui.exact import Fraction
from appui.mei.names import Element, refs
from appui.mei.page import Page
from appui.mei.staves import PartOf, Staff
from appui.musicxml.read.numbers import decimal, integer
from appui.score.gather import Spot
from appui.score.raw import RawEvent

__all__ = ["Beside", "Moment", "Places"]

_CLOSE_Q = Fraction(1, 24)
_TO = re.compile(r"(?:(\d{1,5})m\s*\+\s*)?(\d.*)")


class Beside(NamedTuple):
    """An element beside the notes, the bar it is in, and the staves it names (the first of the score where none)."""

    node: Element
    bar: int
    staves: Sequence[Staff]

    @property
    def both(self) -> bool:
        """Whether it is for all staves of a part on several."""
        return len(self.staves) > 1 or self.node.get("place") == "between"


class Moment(NamedTuple):
    """A place on a staff: bar index and place in the bar."""

    staff: Staff
    bar: int
    at_q: Fraction

    @property
    def part(self) -> PartOf:
        """The part."""
        return self.staff.part


class Places:
    """Finds places and the notes at them, when all notes have been read."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self._events: dict[int, dict[int, list[RawEvent]]] = {}

    def start(self, beside: Beside) -> Moment | None:
        """Where an element begins; `None` where it says nothing that can be found."""
        name = next(iter(refs(beside.node, "startid")), "")
        if name in self.page.moments:
            return Moment(*self.page.moments[name])
        staff = next(iter(beside.staves), None)
        text = beside.node.get("tstamp")
        if staff is None or (text is None and name):
            return None
        return self._moment(beside, staff, beside.bar, text or "1")

    def end(self, beside: Beside, staff: Staff) -> Moment | None:
        """Where an element that lasts ends."""
        name = next(iter(refs(beside.node, "endid")), "")
        if name in self.page.moments:
            return Moment(*self.page.moments[name])
        match = _TO.fullmatch((beside.node.get("tstamp2") or "").strip())
        if match is None:
            return None
        bars = integer(match[1] or "0", "tstamp2", self.page.where, beside.node.sourceline, 0, 99_999)
        bar = min(beside.bar + bars, len(staff.part.raw.bars) - 1)
        return self._moment(beside, staff, bar, match[2])

    def _moment(self, beside: Beside, staff: Staff, bar: int, text: str) -> Moment:
        beat = decimal(text, "tstamp", self.page.where, beside.node.sourceline, 0, 10_000)
        meter = staff.part.raw.bars[bar].meter
        at_q = max(beat - 1, Fraction(0)) * Fraction(4, meter.beat_type if meter is not None else 4)
        return Moment(staff, bar, self._close(staff, bar, at_q))

    def _close(self, staff: Staff, bar: int, at_q: Fraction) -> Fraction:
        onsets = [onset_q for event in self.events(staff.part, bar) for onset_q in (event.at_q, event.stop_q)]
        nearest = min(onsets, key=lambda onset_q: abs(onset_q - at_q), default=at_q)
        return nearest if abs(nearest - at_q) < _CLOSE_Q else at_q

    def events(self, part: PartOf, bar: int) -> list[RawEvent]:
        """The events of one bar of a part."""
        found = self._events.get(id(part))
        if found is None:
            grouped = groupby(part.raw.events, key=attrgetter("bar"))
            found = self._events[id(part)] = {index: list(group) for index, group in grouped}
        return found.get(bar, [])

    def note(self, beside: Beside) -> Spot | None:
        """The note an element hangs on."""
        name = next(iter(refs(beside.node, "startid")), "")
        if name in self.page.spots:
            return self.page.spots[name]
        moment = None if name else self.start(beside)
        event = None if moment is None else self.sounding(moment, beside.node.get("layer") or "")
        return None if event is None else Spot(event)

    def last_note(self, beside: Beside) -> Spot | None:
        """The note an element that lasts ends on."""
        name = next(iter(refs(beside.node, "endid")), "")
        if name in self.page.spots:
            return self.page.spots[name]
        staff = self._staff(beside)
        moment = None if name or staff is None else self.end(beside, staff)
        event = None if moment is None else self.sounding(moment, beside.node.get("layer") or "")
        return None if event is None else Spot(event)

    def _staff(self, beside: Beside) -> Staff | None:
        moment = self.start(beside)
        return moment.staff if moment is not None else None

    def sounding(self, moment: Moment, layer: str = "") -> RawEvent | None:
        """What begins at a place of a staff, else what sounds there; a note rather than a rest."""
        here = [
            event
            for event in self.events(moment.part, moment.bar)
            if event.staff == moment.staff.number and event.at_q <= moment.at_q
        ]
        of_layer = [event for event in here if event.voice.rpartition(".")[2] == layer]
        return max(of_layer or here, key=lambda event: (event.at_q, bool(event.notes)), default=None)

    def before(self, moment: Moment) -> RawEvent | None:
        """What has begun last before a place of a staff, in its bar or the one before."""
        for bar, limit_q in ((moment.bar, moment.at_q), (moment.bar - 1, None)):
            here = [
                event
                for event in self.events(moment.part, bar)
                if event.staff == moment.staff.number and (limit_q is None or event.at_q < limit_q)
            ]
            if here:
                return max(here, key=attrgetter("at_q"))
        return None

    def chosen(self, node: Element) -> Iterator[Spot]:
        """The notes an element lists in `plist`."""
        for name in refs(node, "plist"):
            if name in self.page.spots:
                yield self.page.spots[name]
