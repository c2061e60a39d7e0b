"""Figured bass: what the figures printed under a bass note say, and when.

Shorthand, completions, what must resolve: the usual ones of any textbook (common practice, no source). A figure counts
letter steps above the bass; its alteration is the key signature's unless a sign stands beside it. A sharp raises and a
flat lowers what the signature has, so that a sharp under a signature with B flat gives B natural: the older habit, in
use until about 1800 (memory). A stroke, cross or plus raises by a semitone. None of them raises what the signature has
raised already: no interval is wider than an augmented one, and over F in C major ``4+`` is B. A fourth raised to an
augmented one, alone, is no suspension: the bass is the seventh of a chord (``4+`` means 6/4/2; common practice, no
source). Several figures under one note follow each other by their durations, as MusicXML 4.0 has it (read).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.harmony.places import letter_place, place_of, step_letter
from appui.score.figured_bass import FIGURE
from appui.score.model import Figure, FiguredBass
from appui.score.pitch import Pitch

__all__ = ["COMPLETIONS", "Step", "figures_for", "holds_on", "rows_under", "steps_of"]


class Step(NamedTuple):
    """One interval above the bass: `number` of letter steps, `alter` of the note there, the marks of its row."""

    number: int
    alter: int
    marks: str = ""


#  what is printed, without what goes without saying -> what is played; marks:
#  v falls by step   h falls by step over a held bass   ~ prepared in its voice   ? may be left out   ! not doubled
# fmt: off
COMPLETIONS: dict[tuple[int, ...], str] = {
    ():           "3 5? 8",
    (6,):         "3 6 8?",
    (6, 4):       "4h 6h 8",
    (7,):         "3 5? 7v! 8?",
    (6, 5):       "3 5v! 6 8?",
    (4, 3):       "3v! 4 6",
    (6, 4, 3):    "3v! 4 6",
    (4, 2):       "2 4! 6",
    (2,):         "2 4! 6",
    (6, 2):       "2 4! 6",
    (6, 4, 2):    "2 4! 6",
    (4,):         "4v!~ 5 8",
    (5, 4):       "4v!~ 5 8",
    (9,):         "3 5? 9v!~",
    (9, 7):       "3 7v!~ 9v!~ 5?",
    (9, 4):       "4v!~ 5 9v!~",
    (9, 6):       "3 6 9v!~",
    (7, 4):       "4v!~ 5 7v! 8?",
    (7, 6):       "3 6? 7v!",
    (5, 2):       "2 5",
    (7, 2):       "2v 4 7! 5?",
    (7, 4, 2):    "2v 4 7! 5?",
    (7, 6, 4, 2): "2v 4? 6h 7!",
    (6, 5, 4):    "4 5 6",
}
# fmt: on
#  a seventh that goes on to a sixth over its bass is a suspension, and the fifth has no place beside it
_SEVEN_SIX = "3 7v!~ 8?"
#  what goes without saying, left out in this order until the table knows the rest
_SILENT: tuple[frozenset[int], ...] = (frozenset(), frozenset({8}), frozenset({8, 3}), frozenset({8, 3, 5}))
_RELATIVE = {"slash": 1, "back-slash": 1, "backslash": 1, "plus": 1, "vertical": 1, "cross": 1, "+": 1}
_RAISED = {"sharp": 1, "#": 1, "♯": 1, "flat": -1, "b": -1, "♭": -1}
_ABSOLUTE = {
    "natural": 0,
    "n": 0,
    "♮": 0,
    "double-sharp": 2,
    "sharp-sharp": 2,
    "##": 2,
    "flat-flat": -2,
    "double-flat": -2,
    "bb": -2,
}
#  the widest interval on the line of fifths, the augmented sixth; and the augmented fourth, a tritone
_WIDEST, _TRITONE = 10, 6
_MARKS = re.compile(r"(\d+)(\D*)")
_SIGNS = {2: "double-sharp", 1: "sharp", 0: "natural", -1: "flat", -2: "flat-flat"}

KeyAlter = Callable[[str], int]


def holds_on(figures: Sequence[Figure]) -> bool:
    """Whether the figures are dashes only: what sounds goes on."""
    return bool(figures) and all(not f.number and not f.prefix and not f.suffix and f.extend for f in figures)


def steps_of(
    figures: Sequence[Figure], bass: Pitch, key_alter: KeyAlter, *, then_six: bool = False
) -> tuple[Step, ...]:
    """The steps over a bass note; `key_alter` says what the signature does to a letter.

    `then_six`: the figures after these, over the same bass, are those of a sixth.
    """
    altered: dict[int, int] = {}
    numbers: set[int] = set()
    for figure in figures:
        number, sign = _read(figure)
        if number is not None:
            numbers.add(number)
        place = number or 3
        if sign is not None:
            altered[place] = _altered(sign, bass, place, key_alter)
    if numbers == {4} and 4 in altered and _width(bass, 4, altered[4]) == _TRITONE:
        numbers = {6, 4, 2}
    row = _SEVEN_SIX if numbers == {7} and then_six else _row(numbers, altered)
    found = []
    for word in row.split():
        match = _MARKS.fullmatch(word)
        assert match is not None
        number = int(match[1])
        natural = int(bass.alter) if number == 8 else key_alter(step_letter(bass, number))
        found.append(Step(number, altered.get(number, altered.get(number - 7, natural)), match[2]))
    return tuple(found)


def _read(figure: Figure) -> tuple[int | None, str | None]:
    match = FIGURE.fullmatch(figure.number.strip())
    if match is None:
        return None, figure.prefix or figure.suffix or None
    sign = figure.prefix or figure.suffix or match["before"] or match["after"]
    return (int(match["digits"]) if match["digits"] else None), sign or None


def _altered(sign: str, bass: Pitch, number: int, key_alter: KeyAlter) -> int:
    """The alteration of a note whose figure carries a sign; `number` as in `Step`."""
    plain = key_alter(step_letter(bass, number))
    if sign in _RELATIVE:
        found = plain + 1
    elif sign in _RAISED:
        # against the signature a sharp or flat only takes its sign away
        found = 0 if plain * _RAISED[sign] < 0 else _RAISED[sign]
    else:
        return _ABSOLUTE.get(sign, plain)
    return plain if found > plain and _width(bass, number, found) > _WIDEST else found


def _width(bass: Pitch, number: int, alter: int) -> int:
    """An interval above the bass on the line of fifths: the higher, the more augmented."""
    return letter_place(step_letter(bass, number)) + 7 * alter - place_of(bass)


def _row(numbers: set[int], altered: dict[int, int]) -> str:
    for silent in _SILENT:
        row = COMPLETIONS.get(tuple(sorted(numbers - silent, reverse=True)))
        if row is not None:
            return row
    extra = {3} if 3 in altered else set()
    return " ".join(str(number) for number in sorted(numbers | extra))


def rows_under(
    figures: Sequence[FiguredBass], onset_q: Fraction, end_q: Fraction
) -> Iterator[tuple[Fraction, Fraction, tuple[Figure, ...]]]:
    """The rows of figures under one bass note: from, until, figures."""
    starts: list[tuple[Fraction, tuple[Figure, ...]]] = []
    together, shift_q = None, Fraction(0)
    for entry in figures:
        if onset_q <= entry.onset_q < end_q:
            shift_q = shift_q if entry.onset_q == together else Fraction(0)
            together = entry.onset_q
            if entry.onset_q + shift_q < end_q:
                starts.append((entry.onset_q + shift_q, entry.figures))
            shift_q += entry.duration_q
    ends = [*(start for start, _ in starts), end_q][1:]
    for (start, row), end in zip(starts, ends, strict=True):
        if start < end:
            yield start, end, row


def figures_for(places: Sequence[int], bass: Pitch, key_alter: KeyAlter) -> tuple[Figure, ...]:
    """Figures that say these places over a bass, every one, highest figure first; empty for a plain triad."""
    found: dict[int, str] = {}
    for place in places:
        letter_step = next(n for n in range(2, 9) if (place - letter_place(step_letter(bass, n))) % 7 == 0)
        alter = (place - letter_place(step_letter(bass, letter_step))) // 7
        if letter_step != 8:
            found[letter_step] = "" if alter == key_alter(step_letter(bass, letter_step)) else _SIGNS.get(alter, "")
    if set(found) <= {3, 5} and not any(found.values()):
        return ()
    if 3 in found and 4 not in found:
        # a third goes without saying; altered it is a sign alone
        sign = found.pop(3)
        return (*_rows(found), *((Figure("", sign),) if sign else ()))
    return tuple(_rows(found))


def _rows(found: Mapping[int, str]) -> list[Figure]:
    return [Figure(str(number), found[number]) for number in sorted(found, reverse=True)]
