"""Embellishments in a plan: read, put in their place in the score, checked; and written.

    [embellishments]
    # fills the falling third
    "oboe.12.3" = { over = "1/4", notes = "C5:1/8 Bb4:1/16 A4:1/16" }
    "oboe.30.1" = { notes = "F5:1/2 A5:1/8 G5:1/4:tr F5:1/4 | E5:1/4", over = "1/4" }
    "oboe.41.1" = { over = "1/2", snippet = "mine.musicxml" }
    "oboe.1.1" = { over = "1/4", notes = "C5:1/8 D5:1/8", second_time = true }

An embellishment begins with the note at its place. In time, `over` is the printed value it replaces and its notes add
up to that. On a note with a fermata what stands before ``|`` is free, at least as long as the note; what follows is in
time and replaces `over`. A `snippet` is a MusicXML file whose first part has the notes; its path is taken from the
plan's folder. With ``second_time = true`` the first time through a repeat is as printed.

Checked are sums, compass, and the harmony: a note foreign to the chord goes on by step. With ``unchecked = true`` the
harmony is the player's own affair.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from appui.errors import InputError, PlanError
from appui.exact import Fraction, fraction_of
from appui.harmony.ground import SURE, Ground
from appui.plan.compass import compass_of
from appui.plan.free_notes import notes_text, parse_notes
from appui.score.model import Event, Note, Score
from appui.score.nearest import nearest_places
from appui.score.pitch import Pitch, natural
from appui.score.signs import EMBELLISHMENT, Sign, bar_names, beat_name, part_slugs
from appui.style.free import Free, FreeLine, FreeNote, Played

__all__ = [
    "Embellishment",
    "Span",
    "bound",
    "entry_text",
    "foreign",
    "placed",
    "plain_notes",
    "read_embellishments",
    "section_text",
    "span_at",
]

_KEYS = frozenset({"over", "notes", "snippet", "unchecked", "second_time"})
_VALUE = re.compile(r"\d{1,3}(?:/\d{1,3})?")
_REMEDY = "correct the line, or leave it out: then the printed notes are played"


class Span(NamedTuple):
    """A stretch of one voice: `first` and `last` are the indices of its events; `held`: a fermata over the first."""

    part: int
    voice: int
    first: int
    last: int
    held: bool = False

    def events(self, score: Score) -> tuple[Event, ...]:
        """Its events."""
        return score.parts[self.part].voices[self.voice].events[self.first : self.last + 1]

    def length_q(self, score: Score) -> Fraction:
        """Its printed length."""
        events = self.events(score)
        return events[-1].end_q - events[0].onset_q


@dataclass(frozen=True, slots=True)
class Embellishment:
    """One embellishment of a plan: the place as typed, the sign it is the reading of, and its notes."""

    place: str
    sign: Sign
    free: Free


# places


def span_at(score: Score, place: str, over_q: Fraction, signs: Sequence[Sign]) -> Span:
    """The events from a place on; raises `ValueError` where the place has no note or `over_q` ends inside one."""
    found = {sign.place: (sign.part, sign.voice, sign.event) for sign in signs} | _places(score)
    if place not in found:
        notes = [(name, part, _event(score, where).onset_q) for name, where in found.items() for part in where[:1]]
        near = nearest_places(score, notes, place, 0, 1)
        raise ValueError(f"there is no note at {place!r}" + (f"; the nearest is {near[0]}" if near else ""))
    part, voice, first = found[place]
    events = score.parts[part].voices[voice].events
    held = any(s.kind == "fermata" and (s.part, s.voice, s.event) == (part, voice, first) for s in signs)
    start_q = events[first].end_q if held else events[first].onset_q
    if not events[first].notes:
        raise ValueError("a rest stands there; it stays plain")
    last = first if held else first - 1
    while last + 1 < len(events) and events[last + 1].end_q <= start_q + over_q:
        last += 1
    if last < first or events[last].end_q != start_q + over_q or _gaps(events[first : last + 1]):
        raise ValueError(f"its over = {over_q / 4} does not end with a printed note")
    if events[last].notes and any(note.tied_on for note in events[last].notes):
        raise ValueError("it ends inside a note that is tied on")
    return Span(part, voice, first, last, held)


def _event(score: Score, where: tuple[int, int, int]) -> Event:
    part, voice, event = where
    return score.parts[part].voices[voice].events[event]


def _gaps(events: Sequence[Event]) -> bool:
    return any(one.end_q != other.onset_q for one, other in pairwise(events))


def _places(score: Score) -> dict[str, tuple[int, int, int]]:
    found: dict[str, tuple[int, int, int]] = {}
    slugs, bars = part_slugs(score), bar_names(score)
    for part in score.parts:
        for v, voice in enumerate(part.voices):
            for index, event in enumerate(voice.events):
                if event.notes:
                    bar = score.bars[event.bar]
                    beat = beat_name(bar, event.onset_q - bar.onset_q)
                    found.setdefault(f"{slugs[part.index]}.{bars[bar.index]}.{beat}", (part.index, v, index))
    return found


def plain_notes(score: Score) -> list[Sign]:
    """Every place where an embellishment may begin, as its sign."""
    return [Sign(f"{place}.free", EMBELLISHMENT, *where, 0) for place, where in _places(score).items()]


def placed(place: str, span: Span, free: Free, signs: Sequence[Sign]) -> Embellishment:
    """The embellishment as the reading of a sign: its fermata, or a sign of its own, named ``oboe.12.3.free``."""
    where = (span.part, span.voice, span.first)
    fermata = (s for s in signs if span.held and s.kind == "fermata" and (s.part, s.voice, s.event) == where)
    return Embellishment(place, next(fermata, None) or Sign(f"{place}.free", EMBELLISHMENT, *where, 0), free)


# notes in their place


def bound(score: Score, span: Span, line: FreeLine, ground: Ground | None) -> Free:
    """Written notes in their place in the score: as they sound, with the neighbours of their trills."""
    events = span.events(score)
    held_q = events[0].duration_q if span.held else Fraction(0)
    lead_q = score.last_onset_q(events[0].end_q) - events[0].onset_q if span.held else Fraction(0)
    plain = Free(line, (), span.last, span.length_q(score), held_q, max(lead_q, Fraction(0)), line.free_q)
    transposition = score.parts[span.part].transposition_at(events[0].onset_q)
    at_q, notes = Fraction(0), list[Played]()
    for note in line.all:
        sounding = transposition.sounding(note.pitch) if note.pitch is not None else None
        where_q = events[0].onset_q + plain.moment_q(at_q)
        trill = _around(sounding, ground, where_q) if note.trill and sounding is not None else None
        notes.append(Played(sounding, note.value_q, trill))
        at_q += note.value_q
    free = plain._replace(notes=tuple(notes))
    return free._replace(notes=tuple(_weighed(score, span, free, ground))) if ground is not None else free


def _around(pitch: Pitch, ground: Ground | None, at_q: Fraction) -> tuple[Pitch, Pitch]:
    """The upper and the lower note of a trill."""
    if ground is None or ground.at(at_q) is None:
        return _step(pitch, 1), _step(pitch, -1)
    return ground.neighbour(pitch, 1, at_q), ground.neighbour(pitch, -1, at_q)


def _step(pitch: Pitch, steps: int) -> Pitch:
    """A whole tone away: without a harmony nothing else is known."""
    plain = natural(pitch.diatonic + steps)
    return plain._replace(alter=int(pitch.midi) + 2 * steps - int(plain.midi))


def _weighed(score: Score, span: Span, free: Free, ground: Ground) -> Iterable[Played]:
    """A dissonance on a beat that steps down into a chord note is a leaning note, and weighs."""
    moments = list(_moments(score, span, free))
    lean = {
        index
        for index, (at_q, note) in enumerate(moments[:-1])
        if _leans(score, ground, at_q, note, moments[index + 1][1]) and not span.held
    }
    for index, (_, note) in enumerate(moments):
        yield note._replace(role="lean" if index in lean else "release" if index - 1 in lean else "free")


def _leans(score: Score, ground: Ground, at_q: Fraction, note: Played, following: Played) -> bool:
    footing = ground.at(at_q)
    if footing is None or note.pitch is None or following.pitch is None or note.trill or not _on_beat(score, at_q):
        return False
    steps = note.pitch.diatonic - following.pitch.diatonic
    return not footing.has(note.pitch) and footing.has(following.pitch) and steps == 1


def _on_beat(score: Score, at_q: Fraction) -> bool:
    bar = score.bar_at(at_q)
    return (at_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q == 0


def _moments(score: Score, span: Span, free: Free) -> Iterable[tuple[Fraction, Played]]:
    """Each note with the printed moment it falls on."""
    start_q, at_q = span.events(score)[0].onset_q, Fraction(0)
    for note in free.notes:
        yield start_q + free.moment_q(at_q), note
        at_q += note.value_q


# the harmony


def foreign(score: Score, span: Span, free: Free, ground: Ground) -> tuple[int, str] | None:
    """The first note (from 0) that does not belong to its chord and does not go on by step, and its chord's notes.

    Common practice, no source. A note held over or repeated as a note of the next chord is let pass (an anticipation).
    """
    moments = list(_moments(score, span, free))
    after = _after(score, span)
    end = (span.events(score)[-1].end_q, Played(after.sounding if after else None, Fraction(0)))
    for index, ((at_q, note), (next_q, following)) in enumerate(pairwise([*moments, end])):
        footing, there = ground.at(at_q), ground.at(next_q)
        if footing is None or footing.chance < SURE or note.pitch is None or footing.has(note.pitch) or note.trill:
            continue
        if note.pitch in _printed_at(score, span, at_q):
            continue
        steps = abs(following.pitch.diatonic - note.pitch.diatonic) if following.pitch is not None else 2
        if steps > 1 or (steps == 0 and not (there is not None and there.has(note.pitch))):
            return index, " ".join(footing.letters)
    return None


def _printed_at(score: Score, span: Span, at_q: Fraction) -> set[Pitch]:
    """The notes printed at a moment: whatever they are to the harmony, the composer put them there."""
    return {note.sounding for e in span.events(score) if e.onset_q <= at_q < e.end_q for note in e.notes}


def _after(score: Score, span: Span) -> Note | None:
    """The next printed note, rests passed over."""
    later = score.parts[span.part].voices[span.voice].events[span.last + 1 :]
    return next((event.top for event in later if event.notes), None)


# reading


def read_embellishments(
    table: object,
    lines: Callable[[str], str],
    path: Path,
    score: Score,
    signs: Sequence[Sign],
    ground: Callable[[int, int], Ground] | None,
) -> dict[str, Embellishment]:
    """The embellishments of a plan by the place of their sign; raises `PlanError` naming the line."""
    if not isinstance(table, dict):
        raise PlanError(path, "its embellishments are no table", "write them under [embellishments]")
    found: dict[str, Embellishment] = {}
    taken: dict[tuple[int, int, int], str] = {}
    for place, entry in table.items():
        try:
            one, span = _read_one(place, entry, path, score, signs, ground)
        except ValueError as error:
            raise PlanError(path, f"the embellishment of {place}: {error}", _REMEDY, place=lines(place)) from None
        for event in range(span.first, span.last + 1):
            other = taken.setdefault((span.part, span.voice, event), place)
            if other != place:
                problem = f"the embellishments of {other} and {place} replace the same note"
                raise PlanError(path, problem, "shorten one of them", place=lines(place))
        found[one.sign.place] = one
    return found


def _read_one(
    place: str,
    entry: Any,
    path: Path,
    score: Score,
    signs: Sequence[Sign],
    ground: Callable[[int, int], Ground] | None,
) -> tuple[Embellishment, Span]:
    if not isinstance(entry, dict) or set(entry) - _KEYS or ("notes" in entry) == ("snippet" in entry):
        raise ValueError('is not written as { over = "1/4", notes = "C5:1/8 D5:1/8" }, or with snippet for notes')
    line = _line_of(entry, path)
    span = span_at(score, place, _over_q(entry), signs)
    _check_sums(score, span, line)
    own = ground(span.part, span.voice) if ground is not None else None
    unchecked = entry.get("unchecked") is True
    free = bound(score, span, line, own)._replace(second_time=_second_time(entry, span), unchecked=unchecked)
    _check_compass(score, span, line)
    if own is not None and not unchecked:
        _check_harmony(score, span, free, own)
    return placed(place, span, free, signs), span


def _second_time(entry: Mapping[str, Any], span: Span) -> bool:
    found = entry.get("second_time", False)
    if not isinstance(found, bool):
        raise ValueError(f"its second_time = {found!r} is neither true nor false")  # noqa: TRY004
    if found and span.held:
        raise ValueError("a fermata is held alike every time, since all parts wait; leave second_time out")
    return found


def _over_q(entry: Mapping[str, Any]) -> Fraction:
    words = entry.get("over", "0")
    if not isinstance(words, str) or not _VALUE.fullmatch(words) or words.endswith("/0"):
        raise ValueError(f'its over = {words!r} is no value; write it as "1/4"')
    return 4 * fraction_of(words)


def _line_of(entry: Mapping[str, Any], path: Path) -> FreeLine:
    if "snippet" in entry:
        if not isinstance(entry["snippet"], str):
            raise ValueError("its snippet is not the name of a file")
        return _snippet(path.parent / entry["snippet"])
    if isinstance(entry["notes"], str):
        return parse_notes(entry["notes"])
    raise ValueError("its notes are not text")


def _snippet(path: Path) -> FreeLine:
    """The first voice of a MusicXML file; a fermata ends what is free of the bar."""
    from appui.notations.read import read_score

    try:
        score = read_score(path)
    except InputError as error:
        raise ValueError(f"its snippet cannot be used: {error}") from None
    events = next((v.events for p in score.parts for v in p.voices if any(e.notes for e in v.events)), ())
    if any(len(event.notes) > 1 or event.small_before or event.small_after for event in events):
        raise ValueError(f"its snippet {path.name} has chords or small notes; write out every note")
    cut = next((index + 1 for index, event in enumerate(events) if event.fermata), len(events))
    notes = tuple(_joined(events[:cut])), tuple(_joined(events[cut:]))
    if not notes[0]:
        raise ValueError(f"its snippet {path.name} has no notes")
    return FreeLine(*notes)


def _joined(events: Sequence[Event]) -> Iterable[FreeNote]:
    """Events as notes, tied ones as one."""
    open_note: FreeNote | None = None
    for event in events:
        note = event.top if event.notes else None
        if open_note is not None and note is not None and note.tied_back:
            open_note = open_note._replace(value_q=open_note.value_q + event.duration_q)
            continue
        if open_note is not None:
            yield open_note
        trill = note is not None and any(ornament.kind == "trill-mark" for ornament in note.ornaments)
        open_note = FreeNote(note.written if note else None, event.duration_q, trill)
    if open_note is not None:
        yield open_note


# checks


def _check_sums(score: Score, span: Span, line: FreeLine) -> None:
    held_q = span.events(score)[0].duration_q if span.held else Fraction(0)
    rest_q = span.length_q(score) - held_q
    if not span.held:
        if line.in_time:
            raise ValueError("has a |, but there is no fermata at this place")
        if line.free_q != rest_q:
            raise ValueError(f"its notes add up to {line.free_q / 4}, but it replaces {rest_q / 4}")
        return
    if line.free_q < held_q:
        raise ValueError(f"its notes add up to {line.free_q / 4}, but the note under the fermata is {held_q / 4} long")
    if line.in_time_q != rest_q:
        raise ValueError(f"its notes after | add up to {line.in_time_q / 4}, but they replace {rest_q / 4}")


def _check_compass(score: Score, span: Span, line: FreeLine) -> None:
    part = score.parts[span.part]
    compass = compass_of(part)
    for number, note in enumerate(line.all, 1):
        if note.pitch is not None and not compass.low.midi <= note.pitch.midi <= compass.high.midi:
            bounds = f"{compass.low.name} to {compass.high.name}"
            raise ValueError(f"note {number}, {note.text}, is outside {part.name}'s compass, {bounds}")


def _check_harmony(score: Score, span: Span, free: Free, ground: Ground) -> None:
    found = foreign(score, span, free, ground)
    if found is not None:
        index, chord = found
        raise ValueError(
            f"note {index + 1}, {free.written.all[index].text}, is foreign to {chord} (as it sounds) and does not go "
            "on by step; unchecked = true lets it stand"
        )


# writing


def section_text(found: Iterable[tuple[str, Free]]) -> str:
    """The [embellishments] of a plan, by place."""
    return "\n".join(["", "[embellishments]", *(entry_text(place, free) for place, free in found)]) + "\n"


def entry_text(place: str, free: Free) -> str:
    """One line of them; `read_embellishments` reads it back."""
    over_q = free.span_q - free.held_q
    over = f'over = "{over_q / 4}", ' if over_q else ""
    again = ", second_time = true" if free.second_time else ""
    again += ", unchecked = true" if free.unchecked else ""
    return (
        f"{json.dumps(place, ensure_ascii=False)} = {{ {over}notes = {json.dumps(notes_text(free.written))}{again} }}"
    )
