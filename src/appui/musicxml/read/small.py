"""Small notes while they wait for the note they belong to.

MusicXML gives them a place between notes, not an owner. They belong

- to the next full-size note of their voice in the bar, as a rule;
- to the note before, as after-notes, when no note of their voice follows in the bar, or a rest does. Whether small
notes before a note end the trill before it is a matter of reading, not of place: `appui.style` sees to it.
"""

from __future__ import annotations

from collections.abc import Callable

from appui.exact import Fraction
from appui.musicxml.read.note import Seen
from appui.musicxml.read.numbers import Where, decimal
from appui.score.model import SmallNote
from appui.score.pitch import Pitch
from appui.score.raw import RawEvent, RawPart

__all__ = ["SmallNotes"]

#  quarters by divisions
InQuarters = Callable[[Fraction], Fraction]
_Waiting = list[tuple[SmallNote, Seen]]


class SmallNotes:
    """The small notes of one part that wait, by voice, and the last event of each voice."""

    def __init__(self, part: RawPart, where: Where) -> None:
        self.part, self.where = part, where
        self.waiting: dict[str, _Waiting] = {}
        self.last: dict[str, RawEvent] = {}

    def add(self, seen: Seen, voice: str, written: Pitch, sounding: Pitch, in_quarters: InQuarters) -> bool:
        """Let a small note wait; returns whether it is a new one and not another pitch of the last."""
        waiting = self.waiting.setdefault(voice, [])
        if seen.chord and waiting:
            small, first = waiting[-1]
            stacked = small._replace(written=(*small.written, written), sounding=(*small.sounding, sounding))
            waiting[-1] = (stacked, first)
            return False
        waiting.append((self._made(seen, written, sounding, in_quarters), seen))
        return True

    def _made(self, seen: Seen, written: Pitch, sounding: Pitch, in_quarters: InQuarters) -> SmallNote:
        assert seen.grace is not None
        slash = seen.grace.get("slash")
        made = self._number(seen, "make-time", -(10**8), 10**8)
        return SmallNote(
            (written,),
            (sounding,),
            None if slash is None else slash == "yes",
            seen.value_q,
            seen.type_name,
            self._number(seen, "steal-time-previous", 0, 100),
            self._number(seen, "steal-time-following", 0, 100),
            None if made is None else in_quarters(made),
            bool(seen.slur_starts),
            bool(seen.slur_stops),
            seen.tie_start,
            seen.hidden,
            seen.cue,
            seen.ornaments,
            seen.articulations,
            seen.staff,
            seen.line,
            seen.ordinal,
        )

    def _number(self, seen: Seen, name: str, low: int, high: int) -> Fraction | None:
        assert seen.grace is not None
        text = seen.grace.get(name)
        return None if text is None else decimal(text, name, self.where, seen.line, low, high)

    def deliver(self, event: RawEvent, voice: str) -> None:
        """Hand the small notes waiting in a voice to the event that has come, or to the one before it."""
        waiting = self.waiting.pop(voice, None)
        if not waiting:
            return
        previous = self.last.get(voice)
        if previous is not None and previous.notes and not event.notes:
            _attach_after(previous, waiting)
        elif event.notes:
            event.before = tuple(small for small, _ in waiting)
            _join_slurs(event, waiting)
        else:
            self.part.notice(self.where.place(waiting[0][1].line), "small notes stand between rests: left out")

    def release_all(self, bar: int, *, end_of_bar: bool) -> None:
        """No note follows in this bar: hand what waits to the notes before it, in the same bar or at the very end."""
        for voice in list(self.waiting):
            self._release(voice, bar, end_of_bar=end_of_bar)

    def _release(self, voice: str, bar: int, *, end_of_bar: bool) -> None:
        waiting = self.waiting.get(voice)
        if not waiting:
            return
        previous = self.last.get(voice)
        if previous is not None and previous.notes and (previous.bar == bar or not end_of_bar):
            _attach_after(previous, self.waiting.pop(voice))
        elif not end_of_bar:
            self.part.notice(self.where.place(waiting[0][1].line), "small notes belong to no note: left out")
            self.waiting.pop(voice)


def _attach_after(event: RawEvent, waiting: _Waiting) -> None:
    event.after += tuple(small for small, _ in waiting)
    _join_slurs(event, waiting)


def _join_slurs(event: RawEvent, waiting: _Waiting) -> None:
    """Slurs of small notes, as far as they reach beyond the group and its own note."""
    starts = [*(number for _, seen in waiting for number in seen.slur_starts), *event.slur_starts]
    stops = [*(number for _, seen in waiting for number in seen.slur_stops), *event.slur_stops]
    small = {n for _, seen in waiting for n in (*seen.slur_starts, *seen.slur_stops)}
    for number in small & set(starts) & set(stops):
        starts.remove(number)
        stops.remove(number)
    event.slur_starts, event.slur_stops = tuple(starts), tuple(stops)
