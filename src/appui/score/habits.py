"""The habits of a print: what an edition does with strokes, values of small notes, endings of trills and hidden notes.

Read before anything is judged, part by part and movement by movement. Where a part has too few small notes to tell,
all parts of the movement are asked, then the whole score.

Strokes. In music up to about 1830 the stroke through the stem is as a rule the editor's or the engraver's: new editions
print it even where the note is long (Grove's Dictionary vol. 1, 1879, p. 77, read). Where all or nearly all single
small notes have it, it tells nothing apart and so says nothing; where both kinds are printed, it does.

Values. All small notes were once written as eighths, whatever their length (C.P.E. Bach 1753, 2.2 §5, read). Where all
have one value though the notes they belong to differ in length, the value says nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from appui.exact import Fraction
from appui.score.endings import Ending, printed_ending
from appui.score.model import Score
from appui.score.movements import Movement, movement_of, movements
from appui.score.signs import Sign

__all__ = ["Habits", "Print", "Strokes"]

#  no stroke anywhere; on all or nearly all; on some, so that it tells them apart
Strokes = Literal["none", "nearly all", "some"]
#  so many single small notes tell a habit
_ENOUGH = 4
_NEARLY_ALL = 0.85
#  values are no habit unless the longest main note is so many times the shortest
_DIFFERENT = 2
_TRILLS = frozenset({"trill", "shake", "wavy line"})


@dataclass(frozen=True, slots=True)
class Habits:
    """What the print of one part does in one movement.

    `single` counts single small notes, `stroked` those with a stroke; `one_value` is the value in quarters that all
    small notes have whatever follows, `None` where values differ or too few tell. `endings` counts how the endings of
    trills are printed, `hidden` the ornaments that hidden notes spell out.
    """

    single: int
    stroked: int
    one_value: Fraction | None
    endings: tuple[tuple[Ending, int], ...]
    hidden: int

    @property
    def strokes(self) -> Strokes:
        """What the strokes of this print are worth."""
        if not self.stroked:
            return "none"
        return "nearly all" if self.stroked >= _NEARLY_ALL * self.single else "some"

    @property
    def words(self) -> str:
        """The habits in one sentence; empty where there are none to tell."""
        said = [_of_strokes(self), _of_values(self), _of_endings(self), _of_hidden(self)]
        text = "; ".join(filter(None, said))
        return f"{text[0].upper()}{text[1:]}." if text else ""


def _of_strokes(habits: Habits) -> str:
    if not habits.single:
        return ""
    share = f"{habits.stroked} of {habits.single} single small notes"
    if habits.strokes == "none":
        return "no small note has a stroke through its stem"
    if habits.strokes == "nearly all":
        return f"{share} have a stroke through the stem, so the stroke tells nothing apart"
    return f"{share} have a stroke through the stem"


def _of_values(habits: Habits) -> str:
    if habits.one_value is None:
        return ""
    return f"all small notes are printed as {_VALUES.get(habits.one_value, 'one value')}, so their length goes by rule"


_VALUES = {Fraction(2): "halves", Fraction(1): "quarters", Fraction(1, 2): "eighths", Fraction(1, 4): "sixteenths",
           Fraction(1, 8): "thirty-seconds"}  # fmt: skip
_ENDINGS: dict[Ending, str] = {"full": "at full size", "small": "in small notes", "none": "not at all"}


def _of_endings(habits: Habits) -> str:
    printed = [f"{count} {_ENDINGS[how]}" for how, count in habits.endings if how != "none"]
    if not printed:
        return ""
    others = dict(habits.endings).get("none", 0)
    return f"endings of trills are printed: {', '.join(printed)}" + (f", {others} not" if others else "")


def _of_hidden(habits: Habits) -> str:
    if not habits.hidden:
        return ""
    ornaments = "1 ornament is" if habits.hidden == 1 else f"{habits.hidden} ornaments are"
    return f"{ornaments} spelled out in hidden notes, which do not sound beside them"


class Print:
    """The habits of a whole score, for each part and movement."""

    def __init__(self, score: Score, signs: Sequence[Sign]) -> None:
        self.movements = movements(score)
        self._by_place: dict[tuple[int, int], list[Sign]] = {}
        self._score = score
        for sign in signs:
            movement = movement_of(self.movements, sign.main(score).bar)
            self._by_place.setdefault((sign.part, movement.number), []).append(sign)
        self._found: dict[tuple[int, int], Habits] = {}

    def of(self, sign: Sign) -> Habits:
        """The habits where a sign stands."""
        return self.at(sign.part, movement_of(self.movements, sign.main(self._score).bar))

    def at(self, part: int, movement: Movement) -> Habits:
        """The habits of a part, by index, in a movement."""
        key = part, movement.number
        if key not in self._found:
            self._found[key] = self._read(part, movement)
        return self._found[key]

    def _read(self, part: int, movement: Movement) -> Habits:
        own = self._by_place.get((part, movement.number), [])
        near = [sign for key, signs in self._by_place.items() if key[1] == movement.number for sign in signs]
        everywhere = [sign for signs in self._by_place.values() for sign in signs]
        telling = next((signs for signs in (own, near) if len(_singles(signs)) >= _ENOUGH), everywhere)
        single = _singles(telling)
        endings = Counter(
            printed_ending(self._score, sign) for sign in own if sign.kind in _TRILLS and sign.within is None
        )
        return Habits(
            len(single),
            sum(bool(sign.slashed) for sign in single),
            _one_value(self._score, telling),
            tuple(endings.most_common()),
            sum(bool(sign.spelled) for sign in own),
        )


def _singles(signs: Iterable[Sign]) -> list[Sign]:
    return [sign for sign in signs if sign.kind == "small notes" and len(sign.small) == 1]


def _one_value(score: Score, signs: Iterable[Sign]) -> Fraction | None:
    """The value of all single small notes, where it is one though their main notes differ in length."""
    single = _singles(signs)
    values = {sign.small[0].value_q for sign in single}
    lengths = [sign.main(score).duration_q for sign in single]
    if len(single) < _ENOUGH or len(values) > 1 or max(lengths) < _DIFFERENT * min(lengths):
        return None
    return values.pop()
