"""A figure put in the place of one plain note or of a beat of them: its pitches and values, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.cells import Cell, cells_for
from appui.embellish.line import chord_notes, spelled
from appui.embellish.model import Draft, DraftNote
from appui.embellish.rules import OF_ONE_NOTE, faults
from appui.exact import Fraction
from appui.score.model import Event
from appui.score.pitch import Pitch

__all__ = ["Option", "Position", "movable", "options", "positions", "stands"]


#  seconds a figure has that begins with a rest
_REST_S = 0.5
#  seconds: what is quicker is never played
_QUICKEST_S = 0.08
#  so many notes in a beat are a run
_RUN = 4


class Position(NamedTuple):
    """One beat of a plain note, or a whole note that is shorter: its event, moment, length and what comes next.

    `sub` counts the beats of one note from 0; `beats` is how many it has; `movable`: something may be put there.
    """

    event: int
    start_q: Fraction
    length_q: Fraction
    goal: Pitch | None
    sub: int = 0
    beats: int = 1
    movable: bool = True


class Option(NamedTuple):
    """What may stand from one position up to another, `last`: its notes, the figure (`None`: as printed).

    `treatment`: what becomes of the plain note; `prepared`: the pitch that has to come before, where it is held over;
    `sounding`: the plain note where it may sound on from before; `end_q` and `goal`: where and what it leads to.
    """

    last: int
    notes: tuple[DraftNote, ...]
    cell: Cell | None
    treatment: str
    prepared: Pitch | None = None
    chromatic: bool = False
    sounding: Pitch | None = None
    end_q: Fraction = Fraction(0)
    goal: Pitch | None = None


class _Room(NamedTuple):
    """Where a figure goes: from when, held before it, its own time; the next plain note it looks to."""

    start_q: Fraction
    before_q: Fraction
    room_q: Fraction
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


def positions(case: Case) -> list[Position]:
    """The span note by note, what is longer than a beat beat by beat."""
    found: list[Position] = []
    for index in range(case.span.first, case.span.last + 1):
        event = case.voice[index]
        free = bool(event.notes) and movable(event, again=case.place.kind == "second-time")
        cuts = _cuts(case, event) if free and case.place.kind != "cadence" else [event.onset_q, event.end_q]
        for sub, (start_q, end_q) in enumerate(pairwise(cuts)):
            goal = _next(case, index) if end_q == event.end_q else event.top.sounding
            found.append(Position(index, start_q, end_q - start_q, goal, sub, len(cuts) - 1, free))
    return found


def _cuts(case: Case, event: Event) -> list[Fraction]:
    """Where a note begins and ends and the beats inside it."""
    bar = case.score.bars[event.bar]
    beat_q, zero_q = bar.meter.beat_q, bar.onset_q - bar.lead_q
    inside = [zero_q + beat_q * count for count in range(1, 1 + int((event.end_q - zero_q) / beat_q))]
    return [event.onset_q, *(at_q for at_q in inside if event.onset_q < at_q < event.end_q), event.end_q]


def options(case: Case, found: Sequence[Position], number: int) -> list[Option]:
    """Everything that fits at a position, from it for a beat or for its whole note; as printed first (see `stands`)."""
    here = found[number]
    event = case.voice[here.event]
    pitch = event.top.sounding if event.notes else None
    held = pitch if here.sub else None
    plain = Option(number, (DraftNote(pitch, here.length_q, "printed"),), None, "struck", sounding=held)
    if not here.movable:
        return [plain]
    made = [plain, *_of_note(case, found, number)]
    last = _beat_end(case, found, number)
    if last > number and case.place.kind != "cadence":
        made += _of_beat(case, found, number, last)
    return made


def _beat_end(case: Case, found: Sequence[Position], number: int) -> int:
    """The last position of the beat that begins with one, where it is filled by several notes; else itself."""
    here = found[number]
    end_q = here.start_q + case.score.bars[case.voice[here.event].bar].meter.beat_q
    last = number
    while last + 1 < len(found) and found[last].start_q + found[last].length_q < end_q and found[last + 1].movable:
        last += 1
    whole = found[last].start_q + found[last].length_q == end_q and found[last].sub == found[last].beats - 1
    return last if not here.sub and case.on_beat(here.start_q) and whole else number


def _next(case: Case, index: int) -> Pitch | None:
    """The next plain note, where it follows without a rest."""
    following = case.voice[index + 1] if index + 1 < len(case.voice) else None
    here = following is not None and following.notes and following.onset_q == case.voice[index].end_q
    return following.top.sounding if here and following is not None else None


def _of_note(case: Case, found: Sequence[Position], number: int) -> Iterator[Option]:
    here, closes = found[number], case.place.kind == "cadence"
    beat_q = case.score.bars[case.voice[here.event].bar].meter.beat_q
    end = number + here.beats - 1
    for cell in cells_for(case.mood):
        if cell.trilled != closes or cell.family == "plain":
            continue
        for room in _rooms(here, cell):
            # a rest inside less than a beat is a hiccup
            if "r" not in cell.notes or (room.room_q >= beat_q and case.seconds(room.room_q) >= _REST_S):
                yield from _worked(case, here, number, cell, room)
        # what fills a long note from end to end is simple
        if here.beats > 1 and not here.sub and len(cell.notes) < 4 and end < len(found):
            whole_q = case.voice[here.event].duration_q
            room = _Room(here.start_q, Fraction(0), whole_q, found[end].goal)
            yield from _worked(case, here, end, cell, room)


def _of_beat(case: Case, found: Sequence[Position], number: int, last: int) -> Iterator[Option]:
    here = found[number]
    if last - number >= _RUN:
        # a printed run is what it is
        return
    length_q = found[last].start_q + found[last].length_q - here.start_q
    room = _Room(here.start_q, Fraction(0), length_q, found[last].goal)
    for cell in cells_for(case.mood):
        if not cell.trilled:
            yield from _worked(case, here, last, cell, room)


def _rooms(here: Position, cell: Cell) -> Iterator[_Room]:
    """The whole of a position, or its second half, the note held first."""
    yield _Room(here.start_q, Fraction(0), here.length_q, here.goal)
    if cell.treatment == "struck" and len(cell.notes) in (2, 3):
        half_q = here.length_q / 2
        yield _Room(here.start_q, half_q, half_q, here.goal)


def _worked(case: Case, here: Position, last: int, cell: Cell, room: _Room) -> Iterator[Option]:
    values = cell.values_q(room.room_q)
    if any(value.denominator > 16 for value in values) or case.seconds(min(values)) < _QUICKEST_S:
        return
    main = case.voice[here.event].top.sounding
    notes = _notes(case, main, cell, room, _before(case, here.event))
    if notes is None or case.seconds(min(note.value_q for note in notes)) > cell.most_s:
        return
    if any(one.pitch == other.pitch for one, other in pairwise(notes)):
        return
    if cell.family == "sighing" and cell.treatment == "delayed" and not _leans(case, here.start_q, notes):
        return
    # from below it leans only on what has just been heard (C.P.E. Bach 1753, 2.2 §10, p. 65, read)
    below = cell.family == "sighing" and cell.notes[0] in ("-1", "x")
    prepared = notes[0].pitch if below or cell.notes[0] == "p" else None
    sounding = main if here.sub and notes[0].pitch == main else None
    chromatic = any(note.mark == "chromatic" for note in notes)
    end_q = room.start_q + room.before_q + room.room_q
    yield Option(last, notes, cell, cell.treatment, prepared, chromatic, sounding, end_q, room.goal)


def stands(case: Case, here: Position, option: Option) -> bool:
    """Whether an option keeps the rules that can be asked of it alone."""
    if option.cell is None:
        return True
    own = case.piece(here.event, here.start_q, option.end_q, option.goal)
    return next(faults(own, Draft(option.notes, fits=option.cell.moods), OF_ONE_NOTE), None) is None


def _before(case: Case, index: int) -> Pitch | None:
    before = case.voice[index - 1] if index else None
    here = before is not None and before.notes and before.end_q == case.voice[index].onset_q
    return before.top.sounding if here and before is not None else None


def _leans(case: Case, at_q: Fraction, notes: tuple[DraftNote, ...]) -> bool:
    """Whether what leans is a dissonance a step away."""
    footing, first = case.ground.at(at_q), notes[0].pitch
    return footing is not None and first is not None and not footing.has(first)


class _Spot(NamedTuple):
    """Where one note of a figure goes: its moment, the plain note, the next and the one before."""

    case: Case
    main: Pitch
    goal: Pitch | None
    before: Pitch | None
    at_q: Fraction


def _notes(case: Case, main: Pitch, cell: Cell, room: _Room, before: Pitch | None) -> tuple[DraftNote, ...] | None:
    values = cell.values_q(room.room_q)
    start_q = room.start_q + room.before_q
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
    if room.before_q:
        notes[0] = notes[0]._replace(value_q=notes[0].value_q + room.before_q)
    return tuple(notes)


def _note(pitch: Pitch | None, value_q: Fraction, word: str) -> DraftNote:
    if pitch is None:
        return DraftNote(None, value_q, "rest")
    bare = word.removesuffix("t")
    mark = "printed" if bare == "0" else "chromatic" if "x" in bare else "run"
    return DraftNote(pitch, value_q, mark, word.endswith("t"))


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
