"""What is played in the place of each printed note: the realized tones of a part as slots of written pieces.

A slot is one printed event (note, chord or rest) whose time is filled otherwise than printed; events that are played as
they stand have no slot. Pieces are cut wherever a tone begins or ends, so that a broken chord is written as chords tied
over. What cannot be put into a slot, small notes before the first note of all or in a gap between voices, is left as
printed and told.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import realize
from appui.notate.pieces import Beats, Written, free_pieces, pieces_of, unit_of
from appui.perform.model import Performance
from appui.perform.play import play_realized
from appui.realize.contract import Tone
from appui.score.model import Event, Part, Score
from appui.score.pitch import Pitch
from appui.score.repeats import once
from appui.style.free import Free
from appui.style.reading import Reading

__all__ = ["Line", "Slot", "line_of", "line_within", "written_line"]


@dataclass(frozen=True, slots=True)
class Slot:
    """One printed event and what is played in its time. `voice` and `index` say which event it is.

    `unit_q` is how long a quarter note of the print lasts: less than one in a tuplet, and a little off where the file
    has rounded its durations. `extra_q` is how much longer than printed it is: what is free of the bar is written with
    its own values.
    """

    event: Event
    voice: int
    index: int
    pieces: tuple[Written, ...]
    unit_q: Fraction = Fraction(1)
    extra_q: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Line:
    """The slots of a part, by time, and what goes with them.

    `signs` are the places that are written out, `small` the ordinals of their small notes, `notices` what is left as
    printed, and what had to be said while realizing. `levels` has the MIDI velocity of each tone by onset and sounding
    pitch.
    """

    part: Part
    slots: tuple[Slot, ...]
    signs: frozenset[str]
    small: frozenset[int] = frozenset()
    notices: tuple[tuple[str, str], ...] = ()
    levels: Mapping[tuple[Fraction, Pitch], int] = field(default_factory=dict)


def written_line(
    interpretation: Interpretation, part: int, changed: Mapping[str, Reading] | None = None, *, levels: bool = True
) -> Line:
    """A part of the interpretation's score as it is played, every bar once, with some readings changed by place.

    Without `levels` how loud each note is is left out: that is for files that are played, and takes as long again.
    """
    order = once(interpretation.score.bars)
    done = realize(interpretation, order, changed, [part])
    tones = done.tones[part]
    heard = _levels(play_realized(interpretation, order, done, changed)) if levels else {}
    own = interpretation.score.parts[part]
    slots: list[Slot] = []
    notices: list[tuple[str, str]] = []
    for index, voice in enumerate(own.voices):
        mine = {id(event) for event in voice.events}
        of_voice = [tone for tone in tones if id(tone.event) in mine]
        held = _held(interpretation, part, index, changed or {})
        slots += _slots(interpretation.score, own, index, voice.events, of_voice, held, notices)
    slots.sort(key=lambda slot: (slot.event.onset_q, slot.voice))
    told = {place for place, _ in notices}
    signs = frozenset({tone.sign for tone in tones if tone.sign is not None} - told)
    small = _small(interpretation, part, signs)
    return Line(own, tuple(slots), signs, small, tuple(dict.fromkeys((*done.notices, *notices))), heard)


def _levels(performed: Performance) -> dict[tuple[Fraction, Pitch], int]:
    return {(note.onset_q - performed.lead_q, note.pitch): note.velocity for note in performed.parts[0].notes}


def line_within(line: Line, interpretation: Interpretation, first: int, last: int) -> Line:
    """The line in some bars: signs that take time from the bar before these, or after them, stay as printed."""
    within = [slot for slot in line.slots if first <= slot.event.bar <= last]
    gone: set[str] = set()
    for slot in line.slots:
        inside = first <= slot.event.bar <= last
        gone |= {place for place, tone in _signed(slot) if (first <= tone.event.bar <= last) != inside}
    # what shares a slot with a sign that stays as printed stays too
    while more := [slot for slot in within if not gone.isdisjoint(place for place, _ in _signed(slot))]:
        gone |= {place for slot in more for place, _ in _signed(slot)}
        within = [slot for slot in within if slot not in more]
    signs = line.signs & {place for slot in within for place, _ in _signed(slot)}
    own = {sign.place for sign in interpretation.signs if first <= sign.main(interpretation.score).bar <= last}
    crossing = [(place, "reaches beyond these bars: left as printed") for place in sorted(gone & own)]
    notices = (*((place, words) for place, words in line.notices if place in own), *crossing)
    small = _small(interpretation, line.part.index, signs)
    return replace(line, slots=tuple(within), signs=signs, small=small, notices=notices)


def line_of(line: Line, interpretation: Interpretation, places: Iterable[str]) -> Line:
    """The line with only some signs written out, by place, and those that share a printed note with one of them."""
    wanted = set(places)
    while True:
        slots = tuple(slot for slot in line.slots if any(place in wanted for place, _ in _signed(slot)))
        found = wanted.union(place for slot in slots for place, _ in _signed(slot))
        if found == wanted:
            break
        wanted = found
    signs = frozenset(wanted & line.signs)
    notices = tuple((place, text) for place, text in line.notices if place in wanted)
    small = _small(interpretation, line.part.index, signs)
    return replace(line, slots=slots, signs=signs, small=small, notices=notices)


def _signed(slot: Slot) -> Iterator[tuple[str, Tone]]:
    """The places of the signs that are written out in a slot, each with a tone."""
    return ((tone.sign, tone) for piece in slot.pieces for tone in piece.tones if tone.sign is not None)


def _small(interpretation: Interpretation, part: int, places: frozenset[str]) -> frozenset[int]:
    """The ordinals of the small notes written out; tones of signs over small notes go by those signs' places."""
    written = [sign for sign in interpretation.signs if sign.part == part and sign.place in places]
    over = {(sign.voice, sign.event, sign.within < 0) for sign in written if sign.within is not None}
    whole = (
        sign
        for sign in interpretation.signs
        if sign.part == part and (sign.place in places or (sign.voice, sign.event, sign.kind == "after-notes") in over)
    )
    return frozenset(small.ordinal for sign in whole for small in sign.small if small.ordinal >= 0)


def _slots(
    score: Score,
    part: Part,
    voice: int,
    events: Sequence[Event],
    tones: Iterable[Tone],
    held: Mapping[int, Free],
    notices: list[tuple[str, str]],
) -> Iterable[Slot]:
    onsets = [event.onset_q for event in events]
    inside: dict[int, list[Tone]] = {}
    for tone in tones:
        first = bisect_right(onsets, tone.onset_q) - 1
        if first < 0 or events[first].end_q <= tone.onset_q:
            notices.append((tone.sign or "", "before the first note or in a gap of its voice: left as printed"))
            continue
        index = first
        while index < len(events) and onsets[index] < tone.end_q:
            inside.setdefault(index, []).append(tone)
            index += 1
    for index, found in sorted(inside.items()):
        event = events[index]
        if _as_printed(event, found):
            continue
        try:
            if index in held:
                free = held[index]
                pieces = tuple(free_pieces(part, event, found, free))
                yield Slot(event, voice, index, pieces, extra_q=free.free_q - free.held_q)
                continue
            unit_q = unit_of(event)
            beats = Beats(score.bars[event.bar]) if unit_q == 1 else None
            yield Slot(event, voice, index, tuple(pieces_of(part, event, found, unit_q, beats)), unit_q)
        except ValueError as error:
            notices.extend((tone.sign or "", f"{error}: left as printed") for tone in found)


def _held(interpretation: Interpretation, part: int, voice: int, changed: Mapping[str, Reading]) -> dict[int, Free]:
    """What is played over the fermatas of a voice, by the index of their event."""
    found: dict[int, Free] = {}
    for sign in interpretation.signs:
        if (sign.part, sign.voice, sign.kind) == (part, voice, "fermata"):
            reading = changed.get(sign.place) or interpretation.choices[sign.place].reading
            if reading.free is not None and reading.free.held_q:
                found[sign.event] = reading.free
    return found


def _as_printed(event: Event, tones: Sequence[Tone]) -> bool:
    sounding = {note.sounding for note in event.notes if not note.silent}
    return {tone.pitch for tone in tones} == sounding and all(
        (tone.onset_q, tone.duration_q) == (event.onset_q, event.duration_q) for tone in tones
    )
