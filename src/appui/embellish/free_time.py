"""Drafts for fermatas: every plan over every peak, low note, arrival and pace that the case allows.

Pace: the quick notes are plain values that last as long as the mood wants (a table); the printed note is held first,
chord notes go slower than scales, runs begin slowly and grow quicker, the peak is dwelt on, the last notes broaden, the
trill is long: uneven, as if made up on the spot (Türk 1789, V §13, memory). The proportions are ours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise, product
from typing import NamedTuple

from appui.embellish.case import Case
from appui.embellish.figures import figures
from appui.embellish.growing import GrowingLine
from appui.embellish.line import chord_notes, spelled
from appui.embellish.model import Draft, DraftNote, Figure
from appui.embellish.plans import Plan, plans_for
from appui.embellish.rules import dominant_of, is_trilled
from appui.exact import Fraction
from appui.harmony.ground import Footing
from appui.score.pitch import Pitch, alter_of

__all__ = ["free_drafts"]

#  seconds of a quick note: from, to
_PACE = {"sad": (0.24, 0.50), "tender": (0.13, 0.27), "lively": (0.10, 0.20)}
_UNITS = tuple(Fraction(2) ** -power for power in range(-1, 5))
#  semitones: how far above the held note the peak may lie, how far below the low note
_ABOVE, _BELOW = (2, 15), 13
_TRILL_S = 1.4
#  a held note is heard as held
_HELD_S = 1.2


class _Ends(NamedTuple):
    """Where the gestures of one draft go, and how it goes on after its last note."""

    ends: dict[str, Pitch]
    goal: Pitch | None
    trill: bool
    in_time: tuple[DraftNote, ...]
    figure: Figure | None = None


def free_drafts(case: Case) -> Iterator[Draft]:
    """Every draft for a fermata, in the order of the plans; which of them may stand, the rules say."""
    footing = case.held
    if footing is None:
        return
    own = figures(case, footing) if case.place.kind != "fermata" else []
    for plan in plans_for(case.place.kind, case.mood, case.wish.how_much):
        for ends in _ends(case, footing, plan, own):
            for unit_q in _units(case):
                for held_q in _held(case, unit_q):
                    draft = _drafted(case, footing, plan, ends, unit_q, held_q)
                    if draft is not None:
                        yield draft


def _units(case: Case) -> Iterable[Fraction]:
    low, high = _PACE[case.mood]
    return [unit for unit in _UNITS if low <= case.seconds(unit) <= high][:2]


def _ends(case: Case, footing: Footing, plan: Plan, own: list[Figure]) -> Iterator[_Ends]:
    start = case.events[0].top.sounding
    notes = chord_notes(footing, case.low, case.high)
    words = " ".join(plan.gestures)
    above = [n for n in notes if _ABOVE[0] <= n.midi - start.midi <= _ABOVE[1]] if "peak" in words else [start]
    below = [n for n in notes if 2 <= start.midi - n.midi <= _BELOW] if "low" in words else [start]
    said = [figure for figure in own if figure.times == plan.statements] if plan.statements else [None]
    for arrival in _arrivals(case, footing, notes):
        for peak, low, figure in product(above, below, said):
            # what is said of the piece stays below the peak
            if figure is None or "peak" not in words or max(figure.letters) < peak.diatonic:
                yield arrival._replace(ends={**arrival.ends, "peak": peak, "low": low}, figure=figure)


def _arrivals(case: Case, footing: Footing, notes: list[Pitch]) -> Iterator[_Ends]:
    start = case.events[0].top.sounding
    if case.place.kind == "fermata":
        homes = sorted(notes, key=lambda note: abs(int(note.midi - start.midi)))[:3]
        goal = case.goal[1] if case.goal is not None else None
        yield from (_Ends({"home": home}, goal, False, ()) for home in homes)
    elif case.place.kind == "lead-in" and case.goal is not None:
        goal, at_q = case.goal[1], case.start_q + case.lead_q
        for note in (case.ground.neighbour(goal, 1, at_q), case.ground.neighbour(goal, -1, at_q)):
            yield _Ends({"arrival": note}, goal, False, ())
    elif case.place.kind == "cadenza":
        yield from _closes(case, footing, start)


def _closes(case: Case, footing: Footing, start: Pitch) -> Iterator[_Ends]:
    """Into the printed note of the dominant, trilled there; or, where none is printed, a trill of its own."""
    following = case.following
    if following is not None and following.notes and _is_close(case, footing, following.top.sounding):
        pitch = following.top.sounding
        own = (
            ()
            if is_trilled(following) or len(following.notes) > 1
            else (DraftNote(pitch, following.duration_q, "arrival", True),)
        )
        yield _Ends({"arrival": pitch}, case.goal[1] if case.goal is not None else None, False, own)
        return
    for tonic in _tonics(case, footing, start):
        for note in dominant_of(tonic, case):
            yield _Ends({"arrival": note}, tonic, True, ())


def _is_close(case: Case, footing: Footing, pitch: Pitch) -> bool:
    """Whether a printed note after the fermata is the one to be trilled: a step from the tonic."""
    tonic = footing.letters[0]
    second, leading = dominant_of(_near(tonic, pitch), case)
    return pitch.letter in (second.letter, leading.letter)


def _near(letter: str, pitch: Pitch) -> Pitch:
    alter = alter_of(letter)
    found = (Pitch(letter[0], alter, octave) for octave in range(pitch.octave - 1, pitch.octave + 2))
    return min(found, key=lambda note: abs(int(note.midi - pitch.midi)))


def _tonics(case: Case, footing: Footing, start: Pitch) -> list[Pitch]:
    if case.goal is not None and case.goal[1].letter == footing.letters[0]:
        return [case.goal[1]]
    return [_near(footing.letters[0], start)]


# one draft


def _shaped(plan: Plan, ends: _Ends) -> bool:
    """Whether the peak lies above where it goes on to, and the low note below."""
    end = ends.ends.get("arrival") or ends.ends["home"]
    words = " ".join(plan.gestures)
    over = "peak" not in words or ends.ends["peak"].diatonic > end.diatonic + 1
    return over and ("low" not in words or ends.ends["low"].diatonic < end.diatonic)


def _drafted(case: Case, footing: Footing, plan: Plan, ends: _Ends, unit_q: Fraction, held_q: Fraction) -> Draft | None:
    if not _shaped(plan, ends):
        return None
    path = GrowingLine(case, footing, unit_q)
    path.add(case.events[0].top.sounding, 0, "printed")
    path.values[0] = held_q
    for gesture in plan.gestures:
        if not _done(path, gesture, ends):
            return None
    if case.place.kind == "cadenza" and not ends.trill:
        # the arrival is the printed note itself
        path.line, path.marks, path.values = path.line[:-1], path.marks[:-1], path.values[:-1]
        path.values[-1] = max(path.values[-1], 2 * unit_q)
        if len(path.line) < 2:
            return None
        goal: Pitch | None = ends.ends["arrival"]
    else:
        goal = ends.goal
        if case.place.kind == "cadenza":
            path.values[-1] = _plain_up(Fraction(_TRILL_S) / case.quarter_s)
    if any(abs(one - other) > 12 for one, other in pairwise(_letters(path.line))):
        return None
    times = [case.start_q + case.lead_q] * len(path.line)
    pitches = spelled(case.ground, path.line, times, goal)
    notes = [
        DraftNote(pitch, value_q, mark, ends.trill and mark == "arrival")
        for pitch, value_q, mark in zip(pitches, path.values, path.marks, strict=True)
    ]
    for index in path.rests:
        notes.insert(index, DraftNote(None, 2 * unit_q, "rest"))
    words = tuple(ends.figure.words if ends.figure and each == "figure" else each for each in plan.gestures)
    return Draft(_filled(case, notes), ends.in_time, words, plan.moods, ends.figure, plan.name)


def _letters(line: Iterable[Pitch | int]) -> list[int]:
    return [each.diatonic if isinstance(each, Pitch) else each for each in line]


#  figures on the spot
_ALONE: dict[str, Callable[[GrowingLine], bool]] = {
    "turn": GrowingLine.turn,
    "breath": GrowingLine.breath,
    "again": GrowingLine.again,
}


def _done(path: GrowingLine, gesture: str, ends: _Ends) -> bool:
    way, _, end = gesture.partition(">")
    if way == "figure":
        return ends.figure is not None and path.said(ends.figure)
    if way in _ALONE:
        return _ALONE[way](path)
    to = ends.ends[end]
    if way == "scale":
        return path.scale(to, end)
    return path.chord(to, end, way)


def _held(case: Case, unit_q: Fraction) -> list[Fraction]:
    """How long the printed note may be held first: a little, and as printed where that is not long.

    In any case while the others still move.
    """
    least_q = _plain_up(max(4 * unit_q, case.lead_q, Fraction(_HELD_S) / case.quarter_s))
    printed_q = case.events[0].duration_q
    return [least_q, printed_q] if least_q < printed_q <= 12 * unit_q else [least_q]


def _filled(case: Case, notes: list[DraftNote]) -> tuple[DraftNote, ...]:
    """The notes, the first held longer where they would be shorter than what is printed."""
    short_q = case.events[0].duration_q - sum((note.value_q for note in notes), Fraction(0))
    if short_q > 0:
        notes[0] = notes[0]._replace(value_q=_plain_up(notes[0].value_q + short_q))
    return tuple(notes)


def _plain_up(length_q: Fraction) -> Fraction:
    """The next plain or dotted value that is at least so long."""
    return next((value for value in _PLAIN if value >= length_q), length_q)


_PLAIN = sorted(odd * Fraction(2) ** power for odd in (1, 3) for power in range(-5, 6))
