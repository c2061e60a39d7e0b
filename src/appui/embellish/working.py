"""A figure put in the place of one plain note or of a beat of them: its pitches and values, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.cells import Cell, cells_for
from appui.embellish.line import chord_notes, spelled
from appui.embellish.model import Draft, DraftNote
from appui.embellish.rules import OF_ONE_NOTE, faults
from appui.exact import Fraction
from appui.plan.embellishment import Span
from appui.score.model import Event
from appui.score.pitch import Pitch

__all__ = ["Option", "movable", "options"]


class Option(NamedTuple):
    """What may stand for the events up to `last`: its notes, the figure (`None`: as printed).

    `treatment`: what becomes of the plain note; `prepared`: the pitch that has to come before, where it is held over.
    """

    last: int
    notes: tuple[DraftNote, ...]
    cell: Cell | None
    treatment: str
    prepared: Pitch | None = None
    chromatic: bool = False


class _Room(NamedTuple):
    """Where a figure goes: held before it, its own time, held after it; the next plain note it looks to."""

    before_q: Fraction
    room_q: Fraction
    after_q: Fraction
    goal: Pitch | None


def movable(event: Event, *, again: bool = False) -> bool:
    """Whether a printed note is free to be embellished: alone, untied, no sign, no breath, no dot on it.

    `again`: it has been heard with its dot, and may come without.
    """
    return (
        len(event.notes) == 1
        and not event.small_before
        and not event.small_after
        and event.fermata is None
        and not event.pauses
        and (again or not event.articulations)
        and not event.notes[0].ornaments
        and not event.notes[0].tied_on
        and not event.notes[0].tied_back
        and not event.notes[0].cue
        and event.tuplet == 1
    )


def options(case: Case, index: int) -> list[Option]:
    """Everything that may stand for the event at an index, or for the beat that begins with it; as printed first."""
    event = case.voice[index]
    pitch = event.top.sounding if event.notes else None
    plain = Option(index, (DraftNote(pitch, event.duration_q, "printed"),), None, "struck")
    if pitch is None:
        return [plain]
    if not movable(event, again=case.place.kind == "second-time"):
        return [plain]
    found = [plain, *_of_note(case, index)]
    last = _beat_end(case, index)
    if last > index and case.place.kind != "cadence":
        found += _of_beat(case, index, last)
    return found


def _beat_end(case: Case, index: int) -> int:
    """The last event of the beat that begins with an event, where it is filled by notes of the span; else the event."""
    start = case.voice[index]
    bar = case.score.bars[start.bar]
    end_q = start.onset_q + bar.meter.beat_q
    last = index
    while last < case.span.last and case.voice[last].end_q < end_q and case.voice[last + 1].notes:
        last += 1
    return last if case.on_beat(start.onset_q) and case.voice[last].end_q == end_q else index


def _next(case: Case, index: int) -> Pitch | None:
    """The next plain note, where it follows without a rest."""
    following = case.voice[index + 1] if index + 1 < len(case.voice) else None
    here = following is not None and following.notes and following.onset_q == case.voice[index].end_q
    return following.top.sounding if here and following is not None else None


def _of_note(case: Case, index: int) -> Iterator[Option]:
    event, goal = case.voice[index], _next(case, index)
    beat_q = case.score.bars[event.bar].meter.beat_q
    closes = case.place.kind == "cadence"
    for cell in cells_for(case.mood):
        if cell.trilled == closes and cell.family != "plain":
            for room in _rooms(event, goal, beat_q, cell):
                # a rest inside less than a beat is a hiccup
                if "r" not in cell.notes or room.room_q >= beat_q:
                    yield from _worked(case, index, index, cell, room)


def _of_beat(case: Case, first: int, last: int) -> Iterator[Option]:
    length_q = case.voice[last].end_q - case.voice[first].onset_q
    room = _Room(Fraction(0), length_q, Fraction(0), _next(case, last))
    for cell in cells_for(case.mood):
        if not cell.trilled:
            yield from _worked(case, first, last, cell, room)


def _rooms(event: Event, goal: Pitch | None, beat_q: Fraction, cell: Cell) -> Iterator[_Room]:
    """The whole note; of a long one its last beat or half beat, what is held first; or its first beat."""
    zero, length_q = Fraction(0), event.duration_q
    # what fills a long note from end to end is simple
    if length_q <= beat_q or len(cell.notes) < 4:
        yield _Room(zero, length_q, zero, goal)
    for room_q in (beat_q, beat_q / 2):
        if room_q < length_q and cell.treatment == "struck" and len(cell.notes) > 1:
            yield _Room(length_q - room_q, room_q, zero, goal)
    if beat_q < length_q and len(cell.notes) > 1:
        yield _Room(zero, beat_q, length_q - beat_q, event.top.sounding)


def _worked(case: Case, first: int, last: int, cell: Cell, room: _Room) -> Iterator[Option]:
    event = case.voice[first]
    if any(value.denominator > 16 for value in cell.values_q(room.room_q)):
        return
    notes = _notes(case, event, cell, room, _before(case, first))
    if notes is None or case.seconds(min(note.value_q for note in notes)) > cell.most_s:
        return
    if any(one.pitch == other.pitch for one, other in pairwise(notes)):
        return
    if cell.family == "sighing" and cell.treatment == "delayed" and not _leans(case, event, notes):
        return
    span = Span(case.span.part, case.span.voice, first, last)
    own = case.over(span)
    draft = Draft(notes, fits=cell.moods)
    if next(faults(own, draft, OF_ONE_NOTE), None) is None:
        prepared = notes[0].pitch if cell.notes[0] == "p" else None
        yield Option(last, notes, cell, cell.treatment, prepared, any(n.mark == "chromatic" for n in notes))


def _before(case: Case, index: int) -> Pitch | None:
    before = case.voice[index - 1] if index else None
    here = before is not None and before.notes and before.end_q == case.voice[index].onset_q
    return before.top.sounding if here and before is not None else None


def _leans(case: Case, event: Event, notes: tuple[DraftNote, ...]) -> bool:
    """Whether what leans is a dissonance a step away."""
    footing, first = case.ground.at(event.onset_q), notes[0].pitch
    return footing is not None and first is not None and not footing.has(first)


class _Spot(NamedTuple):
    """Where one note of a figure goes: its moment, the plain note, the next and the one before."""

    case: Case
    main: Pitch
    goal: Pitch | None
    before: Pitch | None
    at_q: Fraction


def _notes(case: Case, event: Event, cell: Cell, room: _Room, before: Pitch | None) -> tuple[DraftNote, ...] | None:
    main = event.top.sounding
    values = cell.values_q(room.room_q)
    start_q = event.onset_q + room.before_q
    times = [start_q + sum(values[:at], Fraction(0)) for at in range(len(values))]
    spots = [_Spot(case, main, room.goal, before, at_q) for at_q in times]
    places = [_placed(spot, word) for spot, word in zip(spots, cell.notes, strict=True)]
    if any(place is None and word != "r" for place, word in zip(places, cell.notes, strict=True)):
        return None
    sounding = [(place, at_q) for place, at_q in zip(places, times, strict=True) if place is not None]
    pitches = iter(spelled(case.ground, [each for each, _ in sounding], [at_q for _, at_q in sounding], room.goal))
    notes = [
        _note(None if place is None else next(pitches), value_q, word)
        for place, value_q, word in zip(places, values, cell.notes, strict=True)
    ]
    return tuple(_held(notes, main, room))


def _note(pitch: Pitch | None, value_q: Fraction, word: str) -> DraftNote:
    if pitch is None:
        return DraftNote(None, value_q, "rest")
    bare = word.removesuffix("t")
    mark = "printed" if bare == "0" else "chromatic" if "x" in bare else "run"
    return DraftNote(pitch, value_q, mark, word.endswith("t"))


def _held(notes: list[DraftNote], main: Pitch, room: _Room) -> list[DraftNote]:
    """The notes with what is held before and after them."""
    if room.before_q:
        notes[0] = notes[0]._replace(value_q=notes[0].value_q + room.before_q)
    if room.after_q and notes[-1].pitch == main:
        notes[-1] = notes[-1]._replace(value_q=notes[-1].value_q + room.after_q)
    elif room.after_q:
        notes.append(DraftNote(main, room.after_q, "printed"))
    return notes


def _placed(spot: _Spot, word: str) -> Pitch | int | None:
    """A word of a figure as a pitch, or as a letter position that is to be spelled; `None` where there is none."""
    bare = word.removesuffix("t")
    way = _WAYS.get(bare[0])
    return way(spot, bare) if way is not None else spot.main.diatonic + int(bare)


def _held_over(spot: _Spot, word: str) -> Pitch | None:
    del word
    return spot.before if spot.before is not None and abs(spot.before.diatonic - spot.main.diatonic) == 1 else None


def _towards(spot: _Spot, word: str) -> Pitch | int | None:
    if spot.goal is None or word == ">x":
        return _below(spot.case, spot.goal, spot.at_q) if spot.goal is not None else None
    # what is anticipated is a step away
    near = abs(spot.goal.diatonic - spot.main.diatonic) == 1
    return spot.goal.diatonic + int(word[1:]) if word != ">0" else spot.goal if near else None


def _below(case: Case, pitch: Pitch, at_q: Fraction) -> Pitch | None:
    """The semitone below, a letter lower; nothing where the scale has it already or it would want a double sharp."""
    plain = case.ground.neighbour(pitch, -1, at_q)
    found = plain._replace(alter=plain.alter + int(pitch.midi) - 1 - int(plain.midi))
    return found if found != plain and -2 < found.alter < 2 else None


def _chord_note(spot: _Spot, word: str) -> Pitch | None:
    main, steps, footing = spot.main, int(word[1:]), spot.case.ground.at(spot.at_q)
    if footing is None:
        return None
    reach = Pitch(main.step, main.alter, main.octave + (1 if steps > 0 else -1))
    low, high = (main, reach) if steps > 0 else (reach, main)
    # a step is no broken chord, not even over a seventh
    notes = [note for note in chord_notes(footing, low, high) if abs(note.diatonic - main.diatonic) > 1]
    order = notes if steps > 0 else notes[::-1]
    return order[abs(steps) - 1] if abs(steps) <= len(order) else None


_WAYS: dict[str, Callable[[_Spot, str], Pitch | int | None]] = {
    "0": lambda spot, _: spot.main,
    "p": _held_over,
    "x": lambda spot, _: _below(spot.case, spot.main, spot.at_q),
    ">": _towards,
    "c": _chord_note,
    "r": lambda _, __: None,
}
