"""A motive of the piece set on one chord: said, answered a step or a third away, on the notes the harmony has.

Over a held chord a leap wants chord notes at both ends and a foreign note steps on both sides (`rules`), so the contour
is kept and an interval that does not fit is widened or narrowed by one letter; the statement that changes least stands.
The rhythm is kept in proportion: as printed, or in the halves of its values that suit the pace. Real and tonal answers:
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from appui.embellish.case import Case
from appui.embellish.model import Figure
from appui.embellish.motives import Motive, motives, tones
from appui.exact import Fraction
from appui.harmony.ground import Footing
from appui.score.pitch import LETTERS
from appui.score.signs import bar_names

__all__ = ["figures"]

#  letter steps from one statement to the next
_ANSWERS = (1, 2, -1, -2, 3, -3)
#  seconds a note of a figure lasts on the average, from, to, and its shortest at least: by mood
_GAIT_S = {"sad": (0.4, 1.0, 0.25), "tender": (0.28, 0.75, 0.14), "lively": (0.16, 0.5, 0.1)}
#  of one motive, said so many times, so many settings are tried; they take up to so much of a breath
_MOST = 5
_MOST_SHARE = 0.5
#  letters above or below the held note a statement may begin
_REACH = 5
#  the letters of a chord, C 0 to B 6
_Letters = frozenset[int]
_TIMES = {1: "", 2: ", twice", 3: ", three times"}
_GAPS = {1: "a step", 2: "a third", 3: "a fourth"}
#  what its values are multiplied by: in words, and how like it is then
_SPEEDS = {
    Fraction(2): (" in double values", 0.95),
    Fraction(1): ("", 1.0),
    Fraction(1, 2): (" in half its values", 0.97),
    Fraction(1, 4): (" four times as quick", 0.85),
}


def figures(case: Case, footing: Footing) -> list[Figure]:
    """The settings of the piece's motives on a chord under a fermata, the chief motive's and the most like first."""
    chief = motives(tones(case.score, case.voice), case.events[0].bar)
    return [
        figure
        for number, motive in enumerate(chief)
        for times in _TIMES
        for figure in _settings(case, footing, motive, times, 1 - number / len(chief))
    ]


def _paces(case: Case, motive: Motive) -> list[Fraction]:
    """By what its values may be multiplied: as printed, if that suits the pace, else the nearest that does."""
    low, high, least = _GAIT_S[case.mood]

    def suits(factor: Fraction) -> bool:
        seconds = [case.seconds(value * factor) for value in motive.values_q]
        return low <= sum(seconds) / len(seconds) <= high and min(seconds) >= least

    return sorted(filter(suits, _SPEEDS), key=lambda factor: abs(factor - 1))[:2]


def _settings(case: Case, footing: Footing, motive: Motive, times: int, weight: float) -> Iterator[Figure]:
    said = _said(case, footing, motive, times)
    for factor in _paces(case, motive):
        values = tuple(value * factor for value in motive.values_q) * times
        if case.seconds(sum(values, Fraction(0))) > _MOST_SHARE * float(case.wish.breath_s):
            continue
        for changed, _, answer, letters in said:
            likeness = _SPEEDS[factor][1] * (1 - changed / (times * len(motive.steps)))
            yield Figure(tuple(letters), values, times, likeness, weight, _words(case, motive, factor, times, answer))


def _said(case: Case, footing: Footing, motive: Motive, times: int) -> list[tuple[int, int, int, list[int]]]:
    """Statements in a row: what changes least and begins near the held note first.

    Each: intervals changed, letters from the held note, letters from one statement to the next, letter positions.
    """
    start = case.events[0].top.sounding.diatonic
    inside = range(case.low.diatonic, case.high.diatonic + 1)
    chord = frozenset(LETTERS.index(letter[0]) for letter in footing.letters)
    found = []
    for first in range(start - _REACH, start + _REACH + 1):
        for answer in _ANSWERS if times > 1 else (0,):
            said = [_stated(chord, motive.steps, first + answer * turn, inside) for turn in range(times)]
            letters = [letter for each in said if each for letter in each]
            if first % 7 in chord and all(said) and _joins(chord, letters, len(motive.values_q)):
                found.append((_changed(letters, motive.steps, times), abs(first - start), answer, letters))
    return sorted(found, key=lambda each: each[:2])[:_MOST]


def _stated(chord: _Letters, steps: Sequence[int], first: int, inside: range) -> list[int] | None:
    """A motive from a letter on: its steps, each leap and each note it leaves or reaches by leap on the chord."""
    if first not in inside:
        return None
    rows = [(0, [first])]
    for step in steps:
        rows = [
            (changed + (other != step), [*letters, letters[-1] + other])
            for changed, letters in rows
            for other in _near(step)
            if letters[-1] + other in inside and _led(chord, letters[-1], letters[-1] + other)
        ]
    kept = [(changed, letters) for changed, letters in rows if changed < 2 and changed < len(steps)]
    return min(kept)[1] if kept else None


def _near(step: int) -> tuple[int, ...]:
    """An interval and those it may turn into: a step a third, a leap a wider or narrower leap."""
    if step == 0:
        return (0,)
    way = 1 if step > 0 else -1
    return (step, step + way) if abs(step) < 3 else (step, step - way, step + way)


def _led(chord: _Letters, one: int, other: int) -> bool:
    """Whether an interval is a step, a repeated note, or a leap within the chord."""
    return abs(one - other) == 1 or (one % 7 in chord and other % 7 in chord)


def _joins(chord: _Letters, letters: Sequence[int], length: int) -> bool:
    """Whether statements follow each other as notes of one line do, no farther than a sixth."""
    ends = [letters[index - 1 : index + 1] for index in range(length, len(letters), length)]
    return all(abs(a - b) <= 5 and _led(chord, a, b) for a, b in ends)


def _changed(letters: Sequence[int], steps: Sequence[int], times: int) -> int:
    length = len(steps) + 1
    said = [letters[turn * length : (turn + 1) * length] for turn in range(times)]
    return sum(b - a != step for each in said for (a, b), step in zip(pairwise(each), steps, strict=True))


def _words(case: Case, motive: Motive, factor: Fraction, times: int, answer: int) -> str:
    where = f"the figure of bar {bar_names(case.score)[motive.bar]}{_SPEEDS[factor][0]}"
    way = "higher" if answer > 0 else "lower"
    each = "each " if times > 2 else ""
    again = f"{_TIMES[times]}, {each}{_GAPS[abs(answer)]} {way}" if times > 1 else ""
    return where + again
