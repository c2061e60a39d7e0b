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
from appui.embellish.line import chord_notes
from appui.embellish.model import Figure
from appui.embellish.motives import Motive, motives, tones
from appui.exact import Fraction
from appui.score.pitch import LETTERS
from appui.score.signs import bar_names
from appui.style.ground import Footing

__all__ = ["figures"]

#  letter steps from one statement to the next
_ANSWERS = (1, 2, -1, -2, 3, -3)
_COUNTS = (2, 3, 1)
#  seconds a note of a figure lasts on the average: by mood, from, to
_GAIT_S = {"sad": (0.4, 1.0), "tender": (0.28, 0.75), "lively": (0.16, 0.5)}
_FACTORS = tuple(Fraction(2) ** -power for power in range(-1, 4))
#  of one motive, so many settings of each count are tried
_MOST = 5
#  letters above or below the held note a statement may begin
_REACH = 5
_TIMES = {1: "", 2: ", twice", 3: ", three times"}
_GAPS = {1: "a step", 2: "a third", 3: "a fourth"}
_SPEEDS = {Fraction(2): "in double values", Fraction(1, 2): "in half its values", Fraction(1, 4): "four times as quick"}


def figures(case: Case, footing: Footing) -> list[Figure]:
    """The settings of the piece's motives on a chord under a fermata, the most like first."""
    bar = case.events[0].bar
    found: list[Figure] = []
    chief = motives(tones(case.score, case.voice), bar)
    for number, motive in enumerate(chief):
        for factor in _paces(case, motive):
            for count in _COUNTS:
                found += _settings(case, footing, motive, factor, count, 1 - number / len(chief))
    return found


def _paces(case: Case, motive: Motive) -> list[Fraction]:
    """By what its values may be multiplied: as printed, if that suits the pace, else the nearest that does."""
    low, high = _GAIT_S[case.mood]
    mean_s = case.seconds(sum(motive.values_q, Fraction(0))) / len(motive.values_q)
    fit = [factor for factor in _FACTORS if low <= mean_s * float(factor) <= high]
    return sorted(fit, key=lambda factor: abs(float(factor) - 1))[:2]


def _settings(
    case: Case, footing: Footing, motive: Motive, factor: Fraction, count: int, weight: float
) -> Iterator[Figure]:
    start = case.events[0].top.sounding.diatonic
    inside = range(case.low.diatonic, case.high.diatonic + 1)
    chord = {note.diatonic for note in chord_notes(footing, case.low, case.high)}
    values = tuple(value * factor for value in motive.values_q)
    rows = []
    for first in sorted(chord & set(range(start - _REACH, start + _REACH + 1))):
        for answer in _ANSWERS if count > 1 else (0,):
            said = [_stated(footing, motive.steps, first + answer * turn, inside) for turn in range(count)]
            letters = [letter for each in said if each for letter in each]
            if all(said) and _joins(footing, letters, len(values)):
                rows.append((_changed(letters, motive.steps, count), abs(first - start), answer, letters))
    # what changes least and begins near the held note
    for changed, _, answer, letters in sorted(rows, key=lambda row: row[:2])[:_MOST]:
        likeness = 1 - changed / (count * len(motive.steps))
        words = _words(case, motive, factor, count, answer)
        yield Figure(tuple(letters), values * count, count, likeness, weight, words)


def _stated(footing: Footing, steps: Sequence[int], first: int, inside: range) -> list[int] | None:
    """A motive from a letter on: its steps, each leap and each note it leaves or reaches by leap on the chord."""
    rows = [(0, [first])]
    for step in steps:
        rows = [
            (changed + (other != step), [*letters, letters[-1] + other])
            for changed, letters in rows
            for other in _near(step)
            if letters[-1] + other in inside and _led(footing, [*letters[-2:], letters[-1] + other])
        ]
    kept = [(changed, letters) for changed, letters in rows if changed < 2 and changed < len(steps)]
    return min(kept)[1] if kept else None


def _near(step: int) -> tuple[int, ...]:
    """An interval and those it may turn into: a step a third, a leap a wider or narrower leap."""
    if step == 0:
        return (0,)
    way = 1 if step > 0 else -1
    return (step, step + way) if abs(step) < 3 else (step, step - way, step + way)


def _is_chord(footing: Footing, letter: int) -> bool:
    return any(name[0] == LETTERS[letter % 7] for name in footing.letters)


def _led(footing: Footing, letters: Sequence[int]) -> bool:
    """Whether the last interval is a step, or of the chord, and the foreign note before it is left by step."""
    return all(abs(a - b) == 1 or (_is_chord(footing, a) and _is_chord(footing, b)) for a, b in pairwise(letters))


def _joins(footing: Footing, letters: Sequence[int], length: int) -> bool:
    """Whether statements follow each other as notes of one line do, no farther than a sixth."""
    ends = [letters[index - 1 : index + 1] for index in range(length, len(letters), length)]
    return all(abs(a - b) <= 5 and _led(footing, (a, b)) for a, b in ends)


def _changed(letters: Sequence[int], steps: Sequence[int], count: int) -> int:
    length = len(steps) + 1
    said = [letters[turn * length : (turn + 1) * length] for turn in range(count)]
    return sum(b - a != step for each in said for (a, b), step in zip(pairwise(each), steps, strict=True))


def _words(case: Case, motive: Motive, factor: Fraction, count: int, answer: int) -> str:
    where = f"the figure of bar {bar_names(case.score)[motive.bar]}"
    speed = f" {_SPEEDS[factor]}" if factor in _SPEEDS else ""
    way = "higher" if answer > 0 else "lower"
    each = "each " if count > 2 else ""
    again = f"{_TIMES[count]}, {each}{_GAPS[abs(answer)]} {way}" if count > 1 else ""
    return where + speed + again
