"""Walking one part's bars: a cursor, voices by name, and what stands at each moment."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import ClassVar

from appui.exact import Fraction
from appui.musicxml.read.attributes import divisions_of, key_of, meter_of, transposition_of
from appui.musicxml.read.barlines import read_barline
from appui.musicxml.read.direction import Directions
from appui.musicxml.read.note import Element, Seen, see_note
from appui.musicxml.read.numbers import MAX_DURATION_Q, Where, decimal, integer
from appui.musicxml.read.small import SmallNotes
from appui.score.figured_bass import Text, figures_in_texts
from appui.score.model import Meter, Note
from appui.score.pitch import Pitch, Transposition
from appui.score.raw import RawBar, RawEvent, RawPart

__all__ = ["PartWalker", "Positions"]

MAX_CHORD = 128  # as many as MIDI has keys
_NOTHING = Fraction(0)
_UNTIED = ((False, False),)


Positions = dict[Fraction, dict[Fraction | int, Fraction]]
"""Quarter notes by divisions and how many of them: parts that share it share one object for one position."""


_BESIDE: Mapping[str, Callable[[Directions, Element], None]] = {
    "direction": Directions.direction,
    "sound": Directions.sound,
    "harmony": Directions.harmony,
    "figured-bass": Directions.figured_bass,
}


class PartWalker:
    """Reads the bars of one part in order into a `RawPart`."""

    def __init__(
        self, part: RawPart, file: str, unpitched_keys: Mapping[str, int], positions: Positions | None = None
    ) -> None:
        self.part = part
        self.where = Where(file, part.name or part.id)
        self.directions = Directions(part, self.where)
        self.divisions = Fraction(1)
        self.meter: Meter | None = None
        self.transposition = Transposition()
        # the cursor and how far the bar's notes reach, in divisions: whole numbers unless the file says otherwise
        self.at: Fraction | int = 0
        self.reach: Fraction | int = 0
        self._positions: Positions = {} if positions is None else positions
        self._quarters = self._positions.setdefault(self.divisions, {})
        self._far: Fraction | int = MAX_DURATION_Q
        self.bar, self.count = -1, 0
        self.small = SmallNotes(part, self.where)
        self.event: RawEvent | None = None
        self.unpitched_keys = unpitched_keys

    def walk(self, measures: Iterable[tuple[Mapping[str, str], Iterable[Element]]]) -> RawPart:
        """Read all bars; returns the part."""
        for attributes, children in measures:
            self.measure(attributes, children)
        return self.finish()

    def finish(self) -> RawPart:
        """Say what was left open after the last bar; returns the part."""
        self.small.release_all(self.bar, end_of_bar=False)
        self.directions.finish()
        if not self.part.figures:
            self.part.figures = figures_in_texts(self.part.texts)
        return self.part

    def measure(self, attributes: Mapping[str, str], children: Iterable[Element]) -> None:
        """Read the next bar."""
        index = self.bar = self.bar + 1
        number = attributes.get("number") or str(index + 1)
        self.at, self.reach, self.where.bar = 0, 0, number
        self.event = None
        self.part.bars.append(RawBar(number, attributes.get("implicit") == "yes"))
        for child in children:
            handler = self._handlers.get(child.tag)
            if handler is not None:
                handler(self, child)
        self.small.release_all(self.bar, end_of_bar=True)
        self.part.bars[index].content_q = self._q(self.reach)
        if self.part.bars[index].meter is None:
            self.part.bars[index].meter = self.meter

    def _q(self, divisions: Fraction | int) -> Fraction:
        """Quarter notes; a score uses few different values many times, so they are remembered."""
        found = self._quarters.get(divisions)
        if found is None:
            found = self._quarters[divisions] = Fraction(divisions) / self.divisions
        return found

    def _reached(self, line: int | None) -> None:
        if self.at > self.reach:
            self.reach = self.at
            if self.at > self._far:
                raise self.where.error(
                    "a bar of more than 10,000 quarter notes", "correct the durations or divisions in the file", line
                )

    # notes

    def _note(self, node: Element) -> None:
        seen = see_note(node, self.where)
        seen.ordinal, self.count = self.count, self.count + 1
        voice = seen.voice or f"staff {seen.staff}"
        if seen.grace is not None:
            self._small(seen, voice)
        elif seen.chord and self.event is not None:
            self._add_note(self.event, seen)
            if self.event.fermata is None:
                self.event.fermata = seen.fermata
        else:
            self._full(seen, voice)

    def _full(self, seen: Seen, voice: str) -> None:
        duration = self._printed_length(seen) if seen.duration is None else seen.duration
        duration_q = self._q(duration)
        at_q = self._q(self.at)
        self.at += duration
        event = RawEvent(
            self.bar,
            at_q,
            duration_q,
            self._q(self.at),
            voice,
            seen.staff,
            seen.line,
            seen.ordinal,
            seen.type_name,
            seen.dots,
            seen.tuplet,
            seen.articulations,
            seen.pauses,
            seen.fermata,
            seen.slur_starts,
            seen.slur_stops,
        )
        if not seen.rest and seen.pitch is not None:
            self._add_note(event, seen)
        for mark in seen.dynamics:
            self.part.dynamics.append((self.bar, at_q, mark, None, seen.staff))
        for text in seen.lyrics:
            self.part.texts.append(Text(self.bar, at_q, duration_q, text, lyric=True))
        if self.small.waiting:
            self.small.deliver(event, voice)
        self.part.events.append(event)
        self.event, self.small.last[voice] = event, event
        self.part.bars[self.bar].has_notes = True
        self._reached(seen.line)

    def _printed_length(self, seen: Seen) -> Fraction | int:
        """How many divisions a note lasts that has no length, or a negative one: as many as its printed value."""
        if seen.value_q is None:
            raise self.where.error(
                "a note has no duration, or a negative one, and no type",
                "correct the file or export it again",
                seen.line,
            )
        self.part.notice(
            self.where.place(seen.line), "a note without a length, or with a negative one: as long as it is printed"
        )
        found = seen.value_q * self.divisions
        return int(found) if found.denominator == 1 else found

    def _pitches(self, seen: Seen) -> tuple[Pitch, Pitch]:
        assert seen.pitch is not None
        if not seen.unpitched:
            return seen.pitch, self.transposition.sounding(seen.pitch)
        key = self.unpitched_keys.get(seen.instrument or "")
        return seen.pitch, seen.pitch if key is None else _pitch_of_key(key)

    def _add_note(self, event: RawEvent, seen: Seen) -> None:
        if seen.pitch is None:
            return
        if len(event.notes) == MAX_CHORD:
            raise self.where.error(f"a chord of more than {MAX_CHORD} notes", "correct it in the file", seen.line)
        written, sounding = self._pitches(seen)
        event.notes += (
            Note(
                written,
                sounding,
                False,
                False,
                seen.ornaments,
                seen.staff,
                seen.hidden,
                seen.cue,
                seen.unpitched,
                seen.percent,
                self._q(seen.attack) if seen.attack else _NOTHING,
                self._q(seen.release) if seen.release else _NOTHING,
                seen.line,
            ),
        )
        if seen.tie_start or seen.tie_stop:
            event.tied = True
            event.ties += ((seen.tie_start, seen.tie_stop),)
        else:
            event.ties += _UNTIED
        if seen.chord:
            event.articulations |= seen.articulations
            event.pauses |= seen.pauses
            event.slur_starts += seen.slur_starts
            event.slur_stops += seen.slur_stops

    def _small(self, seen: Seen, voice: str) -> None:
        if seen.pitch is not None:
            written, sounding = self._pitches(seen)
            if self.small.add(seen, voice, written, sounding, self._q):
                self.event = None

    # the cursor

    def _backup(self, node: Element) -> None:
        self.event = None
        self.at -= _moved(node, self.where)
        if self.at < 0:
            self.part.notice(
                self.where.place(node.sourceline), "goes back beyond the start of the bar: read from its start"
            )
            self.at = 0
        self.small.release_all(self.bar, end_of_bar=True)

    def _forward(self, node: Element) -> None:
        self.event = None
        self.at += _moved(node, self.where)
        self._reached(node.sourceline)

    def _stand(self) -> Directions:
        self.directions.stand(self.bar, self._q(self.at), self.divisions)
        return self.directions

    def _beside(self, node: Element) -> None:
        """What stands beside the notes: words, tempos, chord symbols, figures."""
        _BESIDE[node.tag](self._stand(), node)

    # attributes and barlines

    def _attributes(self, node: Element) -> None:
        for child in node:
            if child.tag == "divisions":
                self._set_divisions(divisions_of(child, self.where))
            elif child.tag == "key" and child.get("number", "1") == "1":
                self.part.keys.append((self.bar, self._q(self.at), *key_of(child, self.where)))
            elif child.tag == "time" and child.get("number", "1") == "1":
                self._set_meter(meter_of(child, self.where))
            elif child.tag == "staves":
                staves = integer(child.text, "staves", self.where, child.sourceline, 1, 99)
                self.part.staves = max(self.part.staves, staves)
            elif child.tag == "transpose":
                self.transposition = transposition_of(child, self.where)
                self.part.transpositions.append((self.bar, self._q(self.at), self.transposition))

    def _set_divisions(self, divisions: Fraction) -> None:
        if divisions == self.divisions:
            return
        self.at, self.reach = self.at * divisions / self.divisions, self.reach * divisions / self.divisions
        self.divisions, self._quarters = divisions, self._positions.setdefault(divisions, {})
        far = MAX_DURATION_Q * divisions
        self._far = int(far) if far.denominator == 1 else far  # whole numbers are compared ten times as fast

    def _set_meter(self, meter: Meter | None) -> None:
        if meter is not None:
            self.meter = meter
            if self.part.bars[self.bar].meter is None:
                self.part.bars[self.bar].meter = meter

    def _barline(self, node: Element) -> None:
        read_barline(node, self.part.bars[self.bar], self.where, lambda name: self._stand().road_sign(name))

    #  of the class, not of the walker: so what has been read is freed as soon as the walker is done
    _handlers: ClassVar[dict[str, Callable[[PartWalker, Element], None]]] = {
        "note": _note,
        "backup": _backup,
        "forward": _forward,
        "attributes": _attributes,
        "direction": _beside,
        "sound": _beside,
        "harmony": _beside,
        "figured-bass": _beside,
        "barline": _barline,
    }


def _moved(node: Element, where: Where) -> Fraction | int:
    """By how many divisions a backup or forward moves the cursor."""
    value = decimal(node.findtext("duration"), f"the duration of {node.tag}", where, node.sourceline, 0, 10**12)
    return int(value) if value.denominator == 1 else value


def _pitch_of_key(key: int) -> Pitch:
    octave, place = divmod(key, 12)
    step, alter = [
        ("C", 0),
        ("C", 1),
        ("D", 0),
        ("D", 1),
        ("E", 0),
        ("F", 0),
        ("F", 1),
        ("G", 0),
        ("G", 1),
        ("A", 0),
        ("A", 1),
        ("B", 0),
    ][place]
    return Pitch(step, alter, octave - 1)
