"""From what was heard to what is said: before or on the beat, how long, how heavy, or why that cannot be told.

Two ways are weighed: before the beat the main note falls on it, on the beat the (first) small note does. How far each
is from the beat, against how well the beat is known and how the player's notes scatter, gives the odds; the length
counts a little, since what is played before the beat is short. Nothing is said below `SURE`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from appui.listen.beat import SURE, Beat, Habit, Point, beats_at, habit_of, near, odds
from appui.listen.figured import FigureHeard, Ground, say_figure
from appui.listen.heard import HeardFigure, HeardLine, HeardNotes, HeardTrill
from appui.listen.line import Line, Place
from appui.listen.trilled import Trilled, TrillHeard, say_trill

__all__ = [
    "EVEN_DB",
    "Heard",
    "How",
    "is_something_else",
    "is_struck",
    "judge",
    "plain_points",
    "weight_word",
]

#  "after" and "played" are of figures: in the course of the note; heard, but not where
How = Literal["before", "on", "not on", "after", "played", "left out", "cannot tell", "trill"]
#  small notes are there, or are not, where the evidence is beyond; several in their order are seldom there by chance
THERE, SEVERAL_THERE, AWAY = 8.0, 5.0, -2.0
EVEN_DB = 3.0
#  of a shorter note the attack is heard more than its weight
_SHORTEST_WEIGHED_S = 0.08
#  by how many dB a weight is heard amiss (one spread; `tests.benchmarks.takes` prints 2.2 to 3.6 and 3.1 to 4.8 of made
#  takes): of long notes, of shorter ones, so much more on the pitch of the note before; that rings on, and the
#  small note seems so much lighter
_LONG_DB, _SHORT_DB, _SAME_DB, _LIGHTER_DB = 2.4, 3.0, 0.5, 0.7
_LONG_S = 0.25
#  a word for a weight is said where it is right with this chance
_SURE_WEIGHT = 0.75
#  that it is one of two words (heavier or about the same, say) with this chance
_SURE_OF_TWO = 0.9
#  lengths of one small note, seconds and spread of the logarithm: before the beat ((n)ASAP, computed); on it anything
_BEFORE_LENGTH, _ON_LENGTH = (0.1, 0.5), (0.22, 0.95)
#  several last longer together by this power of their number
_MORE = 0.7
#  one small note begins at most so long before the beat, seconds
_LONGEST_BEFORE_S = 0.25
#  what hearing itself scatters by, where the pitch changes, seconds
_HEARING_S = 0.012
_CLEAR_STROKE, _SURE_STROKE = 0.6, 0.95
#  a sure stroke is so many times as clear as any other but the main note's, which is so near it (s)
_STANDS_OUT, _MAIN_STROKE_S = 1.3, 0.03
#  what fits its place so much worse than nothing, or is so much softer than its main note (dB), is something else
_MISFIT, _FAINT_DB = -10.0, -14.0
#  the first of several small notes, so many times as long as the longest other and so long (s), is something that rings
_LONG_FIRST, _RINGS_S = 2.5, 0.12
#  the same of any of them, seconds
_GAP_S = 0.4
_HIDDEN = "the note before it and what follows on the main note have its pitch, so it cannot be heard apart"
_FAINT = "the small note is too faint or too short to be sure that it is there"
_FAR = "what is heard begins too long before the beat: perhaps other notes"
_AS_LEFT_OUT = "the small note left out, and the trill or turn begun on its pitch, would sound the same"
_WORST_FIT = 0.45
#  a small note so clear is told whatever is around it
_WHATEVER_ELSE = 24.0


@dataclass(frozen=True, slots=True)
class Heard:
    """What is said of a place. Seconds in the take; `nan` or `None` where it is not said, and `why` gives the reason.

    `confidence` is the chance that `how` is right; `on` that it is on the beat rather than before it. `lead_s` is how
    long before the beat the first small note begins (less than 0: after it); `weight` compares it with the main note.
    """

    place: Place
    how: How
    confidence: float
    on: float
    beat: Beat
    small_s: tuple[float, ...] = ()
    main_s: float = math.nan
    end_s: float = math.nan
    length_s: float = math.nan
    weight_db: float = math.nan
    weight: str = ""
    why: tuple[str, ...] = ()
    trill: TrillHeard | None = None
    evidence: float = math.nan
    figure: FigureHeard | None = None

    @property
    def lead_s(self) -> float:
        """How long before the beat it begins."""
        return self.beat.at_s - self.small_s[0] if self.small_s else math.nan


def judge(line: Line, heard: HeardLine, *, led: bool = False, others: Sequence[Point] = ()) -> list[Heard]:
    """Say what was played at every place; `led` where the line's times are those of a track the player follows.

    `others` are beats that other players tell.
    """
    points, doubtful = plain_points(line, heard, changed=True), plain_points(line, heard, changed=False)
    points = _with_agreeing(points, doubtful, led=led)
    habit = habit_of(points, led=led)
    places = line.places
    steps = [line.steps[place.step] for place in places]
    nominal, stretches = [step.nominal_s for step in steps], [step.stretch for step in steps]
    beats = beats_at(nominal, stretches, _in_order(points, others), habit)
    first = [_judged(line, heard, number, beat, habit) for number, beat in enumerate(beats)]
    more = [*points, *_points_of(first, line)]
    beats = [_without_own(line, place, more, others, habit) for place in places]
    return [_judged(line, heard, number, beat, habit) for number, beat in enumerate(beats)]


def plain_points(line: Line, heard: HeardLine, *, changed: bool) -> list[Point]:
    """The plain notes whose start is clear: where the pitch `changed`, or where only a stroke tells it."""
    found = []
    for number, step in enumerate(line.steps):
        new = not number or line.steps[number - 1].key != step.key
        if step.plain and new == changed and heard.clear[number] and heard.fit[number] > _WORST_FIT:
            found.append(Point(step.nominal_s, heard.starts_s[number], step.stretch))
    return found


def _with_agreeing(points: list[Point], doubtful: list[Point], *, led: bool) -> list[Point]:
    """The points, and of the doubtful ones those that are where the others expect them."""
    habit = habit_of(points, led=led)
    expected = beats_at([each.nominal_s for each in doubtful], [each.stretch for each in doubtful], points, habit)
    agreeing = [
        each
        for each, beat in zip(doubtful, expected, strict=True)
        if abs(each.played_s - beat.at_s) < min(2 * math.hypot(beat.spread_s, habit.scatter_s), 0.06)
    ]
    return _in_order(points, agreeing)


def _in_order(points: Sequence[Point], more: Sequence[Point]) -> list[Point]:
    return sorted([*points, *more], key=lambda point: point.nominal_s)


def _points_of(judged: Sequence[Heard], line: Line) -> list[Point]:
    """The beats that ornaments tell by themselves, where there is no doubt which of their notes is on it."""
    found = []
    for each in judged:
        if each.how in ("before", "on") and each.confidence > 0.97 and (each.how == "before" or each.small_s):
            at_s = each.main_s if each.how == "before" else each.small_s[0]
            step = line.steps[each.place.step]
            if math.isfinite(at_s):
                found.append(Point(step.nominal_s, at_s, step.stretch, 1.3))
    return found


def _without_own(line: Line, place: Place, points: Sequence[Point], others: Sequence[Point], habit: Habit) -> Beat:
    """The beat at a place from all points but its own, so that nothing speaks for itself, and from the others'."""
    step = line.steps[place.step]
    without = [point for point in points if point.nominal_s != step.nominal_s]
    return beats_at([step.nominal_s], [step.stretch], _in_order(without, others), habit)[0]


def _judged(line: Line, heard: HeardLine, number: int, beat: Beat, habit: Habit) -> Heard:
    place = line.places[number]
    reason = _unusable(heard, number, place)
    if reason:
        return Heard(place, "cannot tell", 0.5, 0.5, beat, why=(reason,))
    if number in heard.trills:
        return _trill(line, place, heard.trills[number], beat, habit)
    if number in heard.figures:
        return _figure(line, place, heard.figures[number], beat, habit)
    return _small(place, heard.notes[number], beat, habit, alike=line.steps[place.step].may_begin_with(place.small))


def _unusable(heard: HeardLine, number: int, place: Place) -> str:
    """Why nothing can be said of a place: other notes are played there. A short main note need not fit by itself."""
    around = heard.fit[max(place.step - 1, 0) : place.step + 2]
    notes = heard.notes.get(number)
    evidence = notes.evidence if notes is not None else -math.inf
    odd_main = heard.fit[place.step] < _WORST_FIT / 2 and evidence < THERE
    odd_around = sum(around) / len(around) < _WORST_FIT and evidence < _WHATEVER_ELSE
    if odd_main or odd_around:
        return "what is heard here does not fit the notes of the score"
    return ""


def _small(place: Place, notes: HeardNotes, beat: Beat, habit: Habit, *, alike: bool) -> Heard:
    """Small notes; `alike` says that without them the main note may begin with their pitches."""
    alone = len(place.small) == 1 and (notes.before_same or notes.main_same) and not place.hidden
    there = THERE if len(place.small) == 1 else SEVERAL_THERE
    unknown = place.hidden and notes.before_same
    if unknown or (not alone and notes.evidence < there) or is_something_else(notes):
        return _maybe_left_out(place, notes, beat)
    if place.hidden:
        return _led_into(place, notes, beat, habit, alike=alike)
    spread = math.hypot(beat.spread_s, habit.scatter_s, _HEARING_S)
    small_s = _struck_small(notes) if notes.before_same else notes.small_s[0]
    on = _chance_on(notes, small_s, beat, spread)
    if _is_far(notes, small_s, beat, spread):
        return _maybe_left_out(place, notes, beat, _FAR)
    unsure = notes.before_same and not is_struck(notes, small_s)
    how, why = _spoken(on, beat, unheard=math.isnan(small_s) or (unsure and on < 0.5))
    if notes.before_same and how == "on" and not abs(small_s - beat.at_s) < 3 * spread:
        small_s = _nearest_stroke(notes, beat.at_s, spread)
    shown = (small_s, *notes.small_s[1:]) if not math.isnan(small_s) else ()
    if shown and how == "on":
        why = ()
    length = notes.main_s - (beat.at_s if how == "on" and not shown else small_s)
    weighed = shown and how in ("before", "on") and (length >= _SHORTEST_WEIGHED_S or notes.exact)
    weight_db = notes.small_db - notes.main_db if weighed else math.nan
    return Heard(
        place,
        how,
        max(on, 1 - on),
        on,
        beat,
        shown,
        notes.main_s,
        notes.end_s,
        length,
        weight_db,
        weight_word(*_weighed(weight_db, length, notes)),
        why,
        evidence=notes.evidence,
    )


def _has_gap(lengths: Sequence[float]) -> bool:
    """Whether one of several small notes is so much longer than all others that they do not belong together."""
    *others, longest = sorted(lengths)
    return bool(others) and longest > max(_LONG_FIRST * others[-1], _GAP_S)


def _led_into(place: Place, notes: HeardNotes, beat: Beat, habit: Habit, *, alike: bool) -> Heard:
    """Small notes before a trill or turn of their pitches: all that can be heard is where the first sound is."""
    spread = math.hypot(beat.spread_s, habit.scatter_s, _HEARING_S)
    on = _chance_on(notes, notes.small_s[0], beat, spread)
    if _is_far(notes, notes.small_s[0], beat, spread):
        return _maybe_left_out(place, notes, beat, _FAR)
    how, why = _spoken(on, beat, unheard=False)
    if how == "on":
        why = (_AS_LEFT_OUT,) if alike else ()
    small_s = notes.small_s[:1]
    return Heard(place, how, max(on, 1 - on), on, beat, small_s, end_s=notes.end_s, why=why, evidence=notes.evidence)


def is_something_else(notes: HeardNotes) -> bool:
    """Whether what is heard is rather something else: it does not fit there, is far too soft, or rings on."""
    ends = (*notes.small_s[1:], notes.main_s)
    lengths = [end - start for start, end in zip(notes.small_s, ends, strict=True)]
    # on the pitch of a neighbour the first or last small note is parted from it anywhere
    parted = len(lengths) > 1 and not (notes.before_same or notes.main_same)
    rings = parted and lengths[0] > max(_LONG_FIRST * max(lengths[1:]), _RINGS_S)
    rings |= _has_gap(lengths)
    faint = notes.small_db - notes.main_db < _FAINT_DB
    return not notes.exact and (rings or faint or notes.evidence < _MISFIT)


def _is_far(notes: HeardNotes, small_s: float, beat: Beat, spread: float) -> bool:
    """Whether what is heard begins so long before the beat that it is rather something else."""
    longest_s = _LONGEST_BEFORE_S * len(notes.small_s) ** _MORE
    return not notes.exact and beat.at_s - small_s > longest_s + 3 * spread


def is_struck(notes: HeardNotes, small_s: float) -> bool:
    """Whether a stroke is clear enough to say that a small note of the pitch before it is there at all.

    It must stand out: where the tone itself is restless, as with vibrato, many moments look like strokes.
    """
    own = next((size for at, size in notes.strokes if at == small_s), 0.0)
    others = (size for at, size in notes.strokes if at != small_s and abs(at - notes.main_s) > _MAIN_STROKE_S)
    return own >= max(_SURE_STROKE, _STANDS_OUT * max(others, default=0.0))


def _struck_small(notes: HeardNotes) -> float:
    """Where a small note of the pitch before it is struck: the clearest stroke shortly before the main note."""
    until_s = notes.small_s[1] if len(notes.small_s) > 1 else notes.main_s
    near = [(size, at) for at, size in notes.strokes if 0.03 < until_s - at < 0.3 and size >= _CLEAR_STROKE]
    return max(near)[1] if near else math.nan


def _nearest_stroke(notes: HeardNotes, beat_s: float, spread_s: float) -> float:
    """The stroke on the beat, if there is one."""
    near = [
        (abs(at - beat_s), at)
        for at, size in notes.strokes
        if size >= _CLEAR_STROKE and abs(at - beat_s) < 2.5 * spread_s and at < notes.main_s - 0.035
    ]
    return min(near)[1] if near else math.nan


def _maybe_left_out(place: Place, notes: HeardNotes, beat: Beat, why: str = _FAINT) -> Heard:
    told = len(place.small) > 1 or not (notes.before_same or (notes.main_same and not place.hidden))
    if notes.evidence < AWAY and told and not (place.hidden and notes.before_same):
        return Heard(place, "left out", 0.95, 0.5, beat, (), notes.main_s, notes.end_s, evidence=notes.evidence)
    if place.hidden and notes.before_same:
        why = _HIDDEN
    return Heard(
        place, "cannot tell", 0.5, 0.5, beat, (), notes.main_s, notes.end_s, why=(why,), evidence=notes.evidence
    )


def _spoken(on: float, beat: Beat, *, unheard: bool) -> tuple[How, tuple[str, ...]]:
    if not math.isfinite(beat.spread_s):
        return "cannot tell", ("too few plain notes near it to know where the beat is",)
    if max(on, 1 - on) < SURE:
        return "cannot tell", (f"the beat is known here to {1000 * beat.spread_s:.0f} ms only",)
    same = "it has the pitch of its neighbour, and no new stroke is heard"
    if on > 0.5:
        return "on", (f"{same}: told by where the main note begins",) if unheard else ()
    return ("not on", (same,)) if unheard else ("before", ())


def _chance_on(notes: HeardNotes, small_s: float, beat: Beat, spread: float) -> float:
    """The chance that the small note is on the beat, against before it; `small_s` is `nan` where it is not heard.

    A stroke on the same pitch may be something else, so what the main note says alone counts there too.
    """
    if not math.isfinite(beat.spread_s):
        return 0.5
    small, main, count = small_s - beat.at_s, notes.main_s - beat.at_s, len(notes.small_s)
    if notes.main_same:
        before, on = _spread_out(-small, spread, _BEFORE_LENGTH, count), near(small, spread)
        return odds(before, on)
    alone = near(main, spread), _spread_out(main, spread, _ON_LENGTH, count)
    if math.isnan(small):
        return odds(*alone)
    length = max(main - small, 0.01)
    both = (
        near(main, spread) + _of_length(length, _BEFORE_LENGTH, count),
        near(small, spread) + _of_length(length, _ON_LENGTH, count),
    )
    if notes.before_same:
        return odds(_either(alone[0], both[0]), _either(alone[1], both[1]))
    return odds(*both)


def _either(one: float, other: float) -> float:
    """Log of the mean of two densities given as logs."""
    top = max(one, other)
    return top + math.log((math.exp(one - top) + math.exp(other - top)) / 2)


def _of_length(length_s: float, usual: tuple[float, float], count: int) -> float:
    """Log density of a length, by what is usual; several small notes take longer together."""
    middle, wide = usual
    z = (math.log(length_s) - math.log(middle * count**_MORE)) / wide
    return -math.log(length_s * wide) - 0.5 * z * z


def _spread_out(away_s: float, spread_s: float, usual: tuple[float, float], count: int) -> float:
    """Log density of a note so far after the beat, whose length is only known as usual."""
    import numpy as np

    lengths = np.exp(np.linspace(math.log(0.03), math.log(2.0), 80))
    logs = [near(away_s - length, spread_s) + _of_length(length, usual, count) + math.log(length) for length in lengths]
    top = max(logs)
    return top + math.log(sum(math.exp(each - top) for each in logs) * math.log(2.0 / 0.03) / 80)


def _weighed(weight_db: float, length_s: float, notes: HeardNotes) -> tuple[float, float]:
    """A weight, dB, and how far it may be heard amiss."""
    if notes.exact:
        return weight_db, 0.01
    spread_db = _LONG_DB if length_s >= _LONG_S else _SHORT_DB
    return weight_db + _LIGHTER_DB * notes.before_same, spread_db + _SAME_DB * notes.before_same


def weight_word(weight_db: float, spread_db: float) -> str:
    """The word for a weight, where one of the three is likely enough; else, where one can be ruled out, of the two."""
    heavier, lighter = _beyond(weight_db, spread_db), _beyond(-weight_db, spread_db)
    words = {"heavier": heavier, "lighter": lighter, "about the same": 1 - heavier - lighter}
    one = next((word for word, chance in words.items() if chance >= _SURE_WEIGHT), "")
    two = {"not lighter": 1 - lighter, "not heavier": 1 - heavier}
    return one or next((word for word, chance in two.items() if chance >= _SURE_OF_TWO), "")


def _beyond(weight_db: float, spread_db: float) -> float:
    """The chance that a weight is more than even."""
    return 0.5 * math.erfc((EVEN_DB - weight_db) / (spread_db * math.sqrt(2)))


def _trill(line: Line, place: Place, heard: HeardTrill, beat: Beat, habit: Habit) -> Heard:
    """A trill, as `appui.listen.trilled` says it."""
    before = line.steps[place.step - 1].key if place.step else None
    spread_s = math.hypot(beat.spread_s, habit.scatter_s, _HEARING_S)
    trill = say_trill(heard, Trilled(line.steps[place.step].key, before, place.after, beat, spread_s))
    if trill is None:
        why = ("no trill is heard here: fewer than four quick notes",)
        return Heard(place, "cannot tell", 0.5, 0.5, beat, why=why)
    return Heard(place, "trill", 0.9, 0.5, beat, heard.starts_s[:1], math.nan, heard.end_s, trill=trill)


def _figure(line: Line, place: Place, heard: HeardFigure, beat: Beat, habit: Habit) -> Heard:
    """A turn, a mordent, a short trill, as `appui.listen.figured` says it."""
    spread_s = math.hypot(beat.spread_s, habit.scatter_s, _HEARING_S)
    steps, at = line.steps, place.step
    before = steps[at - 1].key if at else 0
    if any(other.step == at and set(other.small) & set(heard.keys[:-1]) for other in line.places):
        return Heard(place, "cannot tell", 0.5, 0.5, beat, why=("the small notes before it have the same pitches",))
    said = say_figure(heard, Ground(beat, spread_s, line.length_s(at) * beat.pace, before, place.sign.kind))
    if said.how == "played" and any(other.step == at - 1 and other.written is not None for other in line.places):
        why = ("the note before has a figure too, and which notes belong to which cannot be told",)
        return Heard(place, "cannot tell", 0.5, 0.5, beat, why=why)
    small_s: tuple[float, ...] = ()
    main_s, end_s, length_s = heard.alone_s, math.nan, math.nan
    if said.figure is not None:
        small_s = tuple(each for each in said.figure.starts_s[:1] if math.isfinite(each))
        main_s, end_s, length_s = said.figure.starts_s[-1], said.figure.end_s, said.figure.length_s
    return Heard(
        place,
        said.how,
        said.confidence,
        said.on,
        beat,
        small_s,
        main_s,
        end_s,
        length_s,
        why=said.why,
        evidence=heard.evidence,
        figure=said.figure,
    )
