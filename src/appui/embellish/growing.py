"""A draft for a fermata as it grows: scales, broken chords, turns, breaths, the piece's figure, note after note.

Runs begin slowly and grow quicker, chord notes go slower than scales, the peak is dwelt on, what leads into the arrival
broadens: shares of a quick note, ours (that a cadenza keeps no steady tempo: Türk 1789, V §13, memory).
"""

from __future__ import annotations

from appui.embellish.case import Case
from appui.embellish.line import chord_notes
from appui.embellish.model import Figure
from appui.exact import Fraction
from appui.harmony.ground import Footing
from appui.score.pitch import LETTERS, Pitch, alter_of

__all__ = ["GrowingLine"]

_SHARES = {"peak": 4, "low": 2, "home": 4, "arrival": 2}
_THIRD, _TRIPLET_UNIT_Q = Fraction(4, 3), Fraction(1, 4)
#  shares of the notes of a run by how many there are; what is longer goes on in ones
_GROWING: tuple[tuple[Fraction | int, ...], ...] = (
    (),
    (2,),
    (1, 1),
    (2, 1, 1),
    (2, 2, 1, 1),
    (2, 2, 1, 1, 1),
    (2, 2, 1, 1, 1, 1),
    (2, 2, _THIRD, _THIRD, _THIRD, 1, 1),
)


class GrowingLine:
    """The notes of a draft as it grows, gesture by gesture; a gesture that cannot be gives `False`.

    `line` holds pitches and letter positions to be spelled, `rests` the indices before which a breath is taken.
    """

    def __init__(self, case: Case, footing: Footing, unit_q: Fraction) -> None:
        self.case, self.footing, self.unit_q = case, footing, unit_q
        self.line: list[Pitch | int] = []
        self.marks: list[str] = []
        self.values: list[Fraction] = []
        self.rests: list[int] = []

    @property
    def letter(self) -> int:
        """The letter position of its last note."""
        last = self.line[-1]
        return last.diatonic if isinstance(last, Pitch) else last

    def add(self, place: Pitch | int, shares: Fraction | int, mark: str) -> None:
        """One note more, so many quick notes long."""
        self.line.append(place)
        self.values.append(shares * self.unit_q)
        self.marks.append(mark)

    def scale(self, to: Pitch, end: str) -> bool:
        """By step to a pitch."""
        gap = to.diatonic - self.letter
        if abs(gap) < 1 or abs(gap) > 12:
            return False
        step = 1 if gap > 0 else -1
        inner = range(self.letter + step, to.diatonic, step)
        for place, shares in zip(inner, self._growing(len(inner)), strict=True):
            self.add(place, shares, "run")
        # what leads into the arrival broadens; from above it prepares the trill
        if end == "arrival" and len(inner) > 2:
            self.values[-1] = (4 if step < 0 and self.case.place.kind == "cadenza" else 2) * self.unit_q
        self.add(to, _SHARES[end], end)
        return True

    def _growing(self, count: int) -> list[Fraction | int]:
        """The shares of a run of so many notes; triplets only of quick notes."""
        row = _GROWING[min(count, len(_GROWING) - 1)]
        plain = [1 if share == _THIRD and self.unit_q > _TRIPLET_UNIT_Q else share for share in row]
        return [*plain, *(1 for _ in range(count - len(row)))]

    def said(self, figure: Figure) -> bool:
        """The piece's figure; where it begins with the held note, that is its first note, lengthened."""
        # what comes after it is not to be slower
        if 2 * min(figure.values_q) < self.unit_q:
            return False
        merged = figure.letters[0] == self.letter
        for letter, value_q in list(zip(figure.letters, figure.values_q, strict=True))[merged:]:
            self.add(self._placed(letter), value_q / self.unit_q, "figure")
        return True

    def _placed(self, letter: int) -> Pitch | int:
        """A letter position as the chord has it, where it does."""
        name = next((name for name in self.footing.letters if name[0] == LETTERS[letter % 7]), None)
        return Pitch(name[0], alter_of(name), letter // 7) if name is not None else letter

    def chord(self, to: Pitch, end: str, way: str = "chord") -> bool:
        """In chord notes to one; ``decked`` each with its neighbour, ``sighed`` each with its neighbour leaning."""
        here = self.line[-1]
        if not isinstance(here, Pitch) or not self.footing.has(here) or here.midi == to.midi:
            return False
        low, high = (here, to) if here.midi < to.midi else (to, here)
        notes = [note for note in chord_notes(self.footing, low, high) if low.midi < note.midi < high.midi]
        rising = here.midi < to.midi
        for count, note in enumerate(notes if rising else reversed(notes)):
            if way == "chord":
                slow = 1 if self.case.mood == "lively" else 2
                self.add(note, slow * (2 if count == 0 and len(notes) > 2 else 1), "chord")
            else:
                self._with_neighbour(note, rising=rising, leaning=way == "sighed")
        if not self.footing.has(to):
            return False
        self.add(to, _SHARES[end], end)
        return bool(notes) or way == "chord"

    def _with_neighbour(self, note: Pitch, *, rising: bool, leaning: bool) -> None:
        """A chord note, its neighbour, and itself: the last long, or the neighbour."""
        first, neighbour, last = (1, 2, 1) if leaning else (1, 1, 2)
        self.add(note, first, "chord")
        # a sigh leans from above
        self.add(note.diatonic + (1 if leaning or not rising else -1), neighbour, "turn")
        self.add(note, last, "chord")

    def again(self) -> bool:
        """The last note three times more, quicker: repeated notes are of the chord."""
        here = self.line[-1]
        if not isinstance(here, Pitch) or not self.footing.has(here):
            return False
        for shares in (2, 1, 1):
            self.add(here, shares, "chord")
        return True

    def turn(self) -> bool:
        """A turn around the last note."""
        here = self.line[-1]
        if not isinstance(here, Pitch):
            return False
        for place in (here.diatonic + 1, here, here.diatonic - 1):
            self.add(place, 1, "turn")
        self.add(here, 2, "turn")
        return True

    def breath(self) -> bool:
        """A breath is taken on a chord note: a foreign one is not left hanging."""
        here = self.line[-1]
        self.rests.append(len(self.line))
        return isinstance(here, Pitch) and self.footing.has(here)
