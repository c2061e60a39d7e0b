"""Walking one part's bars: a cursor, voices by name, small notes waiting for the note they belong to.

Where small notes belong (MusicXML gives them a place between notes, not an owner):
- to the next full-size note of their voice in the bar, as a rule;
- to the note before, as after-notes, when no note of their voice follows in the bar, or a rest does. Whether small
notes before a note end the trill before it is a matter of reading, not of place: `appui.style` sees to it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import ClassVar

from appui.exact import Fraction
from appui.musicxml.read.direction import Directions
from appui.musicxml.read.note import Element, Seen, see_note
from appui.musicxml.read.numbers import MAX_DIVISIONS, MAX_DURATION_Q, Where, decimal, integer
from appui.score.figured_bass import Text, figures_in_texts
from appui.score.model import Ending, Meter, Note, SmallNote
from appui.score.pitch import Pitch, Transposition
from appui.score.raw import RawBar, RawEvent, RawPart

__all__ = ["PartWalker", "Positions"]

MAX_CHORD = 128  # as many as MIDI has keys
_NOTHING = Fraction(0)
_UNTIED = ((False, False),)


Positions = dict[Fraction, dict[Fraction | int, Fraction]]
"""Quarter notes by divisions and how many of them: parts that share it share one object for one position."""


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
        self.last: dict[str, RawEvent] = {}
        self.waiting: dict[str, list[tuple[SmallNote, Seen]]] = {}
        self.head: Seen | None = None
        self.event: RawEvent | None = None
        self.unpitched_keys = unpitched_keys

    def walk(self, measures: Iterable[tuple[Mapping[str, str], Iterable[Element]]]) -> RawPart:
        """Read all bars; returns the part."""
        for attributes, children in measures:
            self.measure(attributes, children)
        return self.finish()

    def finish(self) -> RawPart:
        """Say what was left open after the last bar; returns the part."""
        self._release_all(end_of_bar=False)
        self.directions.finish()
        if not self.part.figures:
            self.part.figures = figures_in_texts(self.part.texts)
        return self.part

    def measure(self, attributes: Mapping[str, str], children: Iterable[Element]) -> None:
        """Read the next bar."""
        index = self.bar = self.bar + 1
        number = attributes.get("number") or str(index + 1)
        self.at, self.reach, self.where.bar = 0, 0, number
        self.event = self.head = None
        self.part.bars.append(RawBar(number, attributes.get("implicit") == "yes"))
        for child in children:
            handler = self._handlers.get(child.tag)
            if handler is not None:
                handler(self, child)
        self._release_all(end_of_bar=True)
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
            self._small(seen, voice, node)
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
        if self.waiting:
            self._deliver(event, voice)
        self.part.events.append(event)
        self.event, self.head, self.last[voice] = event, None, event
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

    # small notes

    def _small(self, seen: Seen, voice: str, node: Element) -> None:
        if seen.pitch is None:
            return
        waiting = self.waiting.setdefault(voice, [])
        written, sounding = self._pitches(seen)
        if seen.chord and waiting:
            small, first = waiting[-1]
            waiting[-1] = (_stacked(small, written, sounding), first)
            return
        self.event = None
        waiting.append((self._small_note(seen, written, sounding), seen))

    def _small_note(self, seen: Seen, written: Pitch, sounding: Pitch) -> SmallNote:
        assert seen.grace is not None
        slash = seen.grace.get("slash")
        return SmallNote(
            (written,),
            (sounding,),
            None if slash is None else slash == "yes",
            seen.value_q,
            seen.type_name,
            self._grace_number(seen, "steal-time-previous", 0, 100),
            self._grace_number(seen, "steal-time-following", 0, 100),
            self._make_time(seen),
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

    def _grace_number(self, seen: Seen, name: str, low: int, high: int) -> Fraction | None:
        assert seen.grace is not None
        text = seen.grace.get(name)
        return None if text is None else decimal(text, name, self.where, seen.line, low, high)

    def _make_time(self, seen: Seen) -> Fraction | None:
        value = self._grace_number(seen, "make-time", -(10**8), 10**8)
        return None if value is None else self._q(value)

    def _deliver(self, event: RawEvent, voice: str) -> None:
        """Hand the small notes waiting in a voice to the event that has come, or to the one before it."""
        waiting = self.waiting.pop(voice, None)
        if not waiting:
            return
        previous = self.last.get(voice)
        if previous is not None and previous.notes and not event.notes:
            self._attach_after(previous, waiting)
        elif event.notes:
            event.before = tuple(small for small, _ in waiting)
            self._small_slurs(event, waiting)
        else:
            self.part.notice(self.where.place(waiting[0][1].line), "small notes stand between rests: left out")

    def _attach_after(self, event: RawEvent, waiting: list[tuple[SmallNote, Seen]]) -> None:
        event.after += tuple(small for small, _ in waiting)
        self._small_slurs(event, waiting)

    def _small_slurs(self, event: RawEvent, waiting: list[tuple[SmallNote, Seen]]) -> None:
        """Slurs of small notes, as far as they reach beyond the group and its own note."""
        starts = [*(number for _, seen in waiting for number in seen.slur_starts), *event.slur_starts]
        stops = [*(number for _, seen in waiting for number in seen.slur_stops), *event.slur_stops]
        small = {n for _, seen in waiting for n in (*seen.slur_starts, *seen.slur_stops)}
        for number in small & set(starts) & set(stops):
            starts.remove(number)
            stops.remove(number)
        event.slur_starts, event.slur_stops = tuple(starts), tuple(stops)

    def _release(self, voice: str, *, end_of_bar: bool) -> None:
        waiting = self.waiting.get(voice)
        if not waiting:
            return
        previous = self.last.get(voice)
        if previous is not None and previous.notes and (previous.bar == self.bar or not end_of_bar):
            self._attach_after(previous, self.waiting.pop(voice))
        elif not end_of_bar:
            self.part.notice(self.where.place(waiting[0][1].line), "small notes belong to no note: left out")
            self.waiting.pop(voice)

    def _release_all(self, *, end_of_bar: bool) -> None:
        for voice in list(self.waiting):
            self._release(voice, end_of_bar=end_of_bar)

    # the cursor

    def _backup(self, node: Element) -> None:
        self.event = None
        self.at -= self._moved(node)
        if self.at < 0:
            self.part.notice(
                self.where.place(node.sourceline), "goes back beyond the start of the bar: read from its start"
            )
            self.at = 0
        self._release_all(end_of_bar=True)

    def _moved(self, node: Element) -> Fraction | int:
        value = decimal(
            node.findtext("duration"), f"the duration of {node.tag}", self.where, node.sourceline, 0, 10**12
        )
        return int(value) if value.denominator == 1 else value

    def _forward(self, node: Element) -> None:
        self.event = None
        self.at += self._moved(node)
        self._reached(node.sourceline)

    def _stand(self) -> Directions:
        self.directions.stand(self.bar, self._q(self.at), self.divisions)
        return self.directions

    def _direction(self, node: Element) -> None:
        self._stand().direction(node)

    def _sound(self, node: Element) -> None:
        self._stand().sound(node)

    def _harmony(self, node: Element) -> None:
        self._stand().harmony(node)

    def _figured_bass(self, node: Element) -> None:
        self._stand().figured_bass(node)

    # attributes and barlines

    def _attributes(self, node: Element) -> None:
        for child in node:
            if child.tag == "divisions":
                divisions = decimal(
                    child.text, "divisions", self.where, child.sourceline, Fraction(1, 1000), MAX_DIVISIONS
                )
                self._set_divisions(divisions)
            elif child.tag == "key" and child.get("number", "1") == "1":
                self._key(child)
            elif child.tag == "time" and child.get("number", "1") == "1":
                self._time(child)
            elif child.tag == "staves":
                self.part.staves = max(
                    self.part.staves, integer(child.text, "staves", self.where, child.sourceline, 1, 99)
                )
            elif child.tag == "transpose":
                self._transpose(child)

    def _set_divisions(self, divisions: Fraction) -> None:
        if divisions == self.divisions:
            return
        self.at, self.reach = self.at * divisions / self.divisions, self.reach * divisions / self.divisions
        self.divisions, self._quarters = divisions, self._positions.setdefault(divisions, {})
        far = MAX_DURATION_Q * divisions
        self._far = int(far) if far.denominator == 1 else far  # whole numbers are compared ten times as fast

    def _key(self, node: Element) -> None:
        mode = (node.findtext("mode") or "").strip()
        steps = [(s.text or "").strip() for s in node.iterfind("key-step")]
        alters = [
            int(decimal(a.text, "key-alter", self.where, a.sourceline, -3, 3)) for a in node.iterfind("key-alter")
        ]
        altered = tuple((s, a) for s, a in zip(steps, alters, strict=False) if s and s in "CDEFGAB")
        fifths = integer(node.findtext("fifths") or "0", "fifths", self.where, node.sourceline, -14, 14)
        self.part.keys.append((self.bar, self._q(self.at), fifths, mode, altered))

    def _time(self, node: Element) -> None:
        if node.find("senza-misura") is not None:
            return
        total, symbol = Fraction(0), node.get("symbol", "")
        kind = 1
        for beats, beat_type in zip(node.iterfind("beats"), node.iterfind("beat-type"), strict=False):
            numbers = re.findall(r"\d+", beats.text or "")[:16]
            kind = integer(beat_type.text, "beat-type", self.where, beat_type.sourceline, 1, 256)
            if not numbers or not 0 < sum(map(int, numbers)) <= 256:
                raise self.where.error(
                    f"a meter of {beats.text!r} beats", "correct the time signature", beats.sourceline
                )
            total += Fraction(sum(map(int, numbers)), kind)
        if total:
            count = total * kind
            while count.denominator != 1:
                kind *= 2
                count = total * kind
                if kind > 1024:
                    raise self.where.error(
                        "a meter whose parts do not fit together", "correct the time signature", node.sourceline
                    )
            self.meter = Meter(int(count), kind, symbol if symbol in ("common", "cut") else "")
            if self.part.bars[self.bar].meter is None:
                self.part.bars[self.bar].meter = self.meter

    def _transpose(self, node: Element) -> None:
        line = node.sourceline
        chromatic = decimal(node.findtext("chromatic") or "0", "chromatic", self.where, line, -60, 60)
        octaves = integer(node.findtext("octave-change") or "0", "octave-change", self.where, line, -5, 5)
        text = node.findtext("diatonic")
        # diatonic may be left out: the nearest letter distance is then the natural one
        diatonic = integer(text, "diatonic", self.where, line, -60, 60) if text else round(chromatic * 7 / 12)
        whole = chromatic + 12 * octaves
        self.transposition = Transposition(diatonic + 7 * octaves, int(whole) if whole.denominator == 1 else whole)
        self.part.transpositions.append((self.bar, self._q(self.at), self.transposition))

    def _barline(self, node: Element) -> None:
        bar = self.part.bars[self.bar]
        for child in node:
            if child.tag == "repeat":
                if child.get("direction") == "forward":
                    bar.repeat_forward = True
                else:
                    bar.repeat_backward = integer(
                        child.get("times", "2"), "times", self.where, child.sourceline, 1, 100
                    )
            elif child.tag == "bar-style":
                bar.final = (child.text or "").strip() == "light-heavy" and node.find("repeat") is None
            elif child.tag == "ending":
                self._ending(bar, child)
            elif child.tag == "fermata" and node.get("location", "right") == "right":
                bar.fermata_at_end = True
            elif child.tag in ("segno", "coda"):
                self._stand().road_sign(child.tag)

    def _ending(self, bar: RawBar, node: Element) -> None:
        if node.get("type") == "start":
            passes = tuple(int(n) for n in re.findall(r"\d+", node.get("number", ""))[:20] if 0 < int(n) < 100)
            bar.ending_starts.append(Ending(passes or (1,)))
        else:
            bar.ending_stops = True

    #  of the class, not of the walker: so what has been read is freed as soon as the walker is done
    _handlers: ClassVar[dict[str, Callable[[PartWalker, Element], None]]] = {
        "note": _note,
        "backup": _backup,
        "forward": _forward,
        "attributes": _attributes,
        "direction": _direction,
        "sound": _sound,
        "harmony": _harmony,
        "figured-bass": _figured_bass,
        "barline": _barline,
    }


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


def _stacked(small: SmallNote, written: Pitch, sounding: Pitch) -> SmallNote:
    return small._replace(written=(*small.written, written), sounding=(*small.sounding, sounding))
