"""A move put on one printed note: its pitches and values, or nothing where it does not fit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from appui.embellish.case import Case
from appui.embellish.line import chord_notes, spelled
from appui.embellish.model import DraftNote
from appui.embellish.moves import MOVES, Move
from appui.exact import Fraction
from appui.score.model import Event
from appui.score.pitch import Pitch

__all__ = ["fills", "movable"]


def movable(event: Event) -> bool:
    """Whether a printed note is free to be embellished: alone, untied, no sign, no breath, no dot on it."""
    return (
        len(event.notes) == 1
        and not event.small_before
        and not event.small_after
        and event.fermata is None
        and not event.pauses
        and not event.articulations
        and not event.notes[0].ornaments
        and not event.notes[0].tied_on
        and not event.notes[0].tied_back
        and not event.notes[0].cue
        and event.tuplet == 1
    )


def fills(case: Case, index: int) -> Iterator[tuple[Move, tuple[DraftNote, ...]]]:
    """Every move that can be put on an event of the voice, with its notes.

    A long note may be held first and filled in its last two beats, or its last, alone.
    """
    event, following = case.voice[index], case.voice[index + 1] if index + 1 < len(case.voice) else None
    if following is None or not following.notes or following.onset_q != event.end_q or not movable(event):
        return
    main, goal = event.top.sounding, following.top.sounding
    beat_q = case.score.bars[event.bar].meter.beat_q
    rooms = [event.duration_q, *(beats * beat_q for beats in (2, 1) if beats * beat_q < event.duration_q)]
    before = case.voice[index - 1] if index else None
    for move in MOVES:
        if goal.diatonic - main.diatonic in move.intervals and case.mood in move.moods:
            for room_q in rooms if move.notes[0] == "0" and len(move.notes) > 1 else rooms[:1]:
                notes = _notes(case, event, goal, move, room_q)
                if notes is not None and _stands(case, event, before, move, notes):
                    yield move, notes


def _stands(case: Case, event: Event, before: Event | None, move: Move, notes: tuple[DraftNote, ...]) -> bool:
    """What a move is besides its notes: quick, a repeated preparation, a dissonance; and no note twice in a row."""
    quickest = min(note.value_q for note in notes)
    if case.seconds(quickest) > move.most_s or any(one.pitch == other.pitch for one, other in pairwise(notes)):
        return False
    first, footing = notes[0].pitch, case.ground.at(event.onset_q)
    if not move.leans or first is None or footing is None:
        return True
    prepared = before.top.sounding if before is not None and before.notes and before.end_q == event.onset_q else None
    from_below = first.diatonic < event.top.sounding.diatonic
    return not footing.has(first) and (prepared == first or not from_below)


def _notes(case: Case, event: Event, goal: Pitch, move: Move, room_q: Fraction) -> tuple[DraftNote, ...] | None:
    main, whole = event.top.sounding, sum(move.shares)
    values = [room_q * share / whole for share in move.shares]
    values[0] += event.duration_q - room_q
    times = [event.onset_q + sum(values[:index], Fraction(0)) for index in range(len(values))]
    line: list[Pitch | int] = []
    for token, at_q in zip(move.notes, times, strict=True):
        place = _placed(case, token.removesuffix("t"), main, goal, at_q)
        if place is None:
            return None
        line.append(place)
    pitches = spelled(case.ground, line, times, goal)
    return tuple(
        DraftNote(pitch, value_q, "printed" if token in ("0", "0t") else "run", token.endswith("t"))
        for pitch, value_q, token in zip(pitches, values, move.notes, strict=True)
    )


def _placed(case: Case, word: str, main: Pitch, goal: Pitch, at_q: Fraction) -> Pitch | int | None:
    if word == "0":
        return main
    if word[0] == ">":
        return goal if word == ">0" else goal.diatonic + int(word[1:])
    if word[0] != "c":
        return main.diatonic + int(word)
    footing, steps = case.ground.at(at_q), int(word[1:])
    if footing is None:
        return None
    reach = Pitch(main.step, main.alter, main.octave + (1 if steps > 0 else -1))
    low, high = (main, reach) if steps > 0 else (reach, main)
    # a step is no broken chord, not even over a seventh
    notes = [note for note in chord_notes(footing, low, high) if abs(note.diatonic - main.diatonic) > 1]
    order = notes if steps > 0 else notes[::-1]
    return order[abs(steps) - 1] if abs(steps) <= len(order) else None
