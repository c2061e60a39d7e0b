"""The ground of an embellishment: chord, bass and scale under every moment of one voice.

The chord is the printed one where the score has symbols or figures, else the harmony room's; where no other voice
sounds in the bar there is none. The scale is that of the local key with the chord's own notes in it; in minor the
seventh is raised on its way up to the tonic and over a dominant (melodic minor, common practice), and no neighbour
makes an augmented second (C.P.E. Bach 1753, 2.3 §19, read, says it of trills; here of all).
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from appui.exact import Fraction
from appui.harmony.places import letter_place, place_of
from appui.harmony.printed import printed_at
from appui.harmony.spelling import class_of
from appui.score.model import Key, Score
from appui.score.pitch import Pitch, alter_of, natural

if TYPE_CHECKING:
    from appui.harmony.analyse import Harmony
    from appui.harmony.keys import LocalKey

__all__ = ["SURE", "Footing", "Ground"]

#  below this chance of its chord a moment is not built upon
SURE = 0.6
_MINOR_HOME = 3
#  what begins with a moment belongs to it
_MOMENT_Q = 1 / 64


class Footing(NamedTuple):
    """What is under one moment: the chord's letters, root first, its label and chance, the bass, and the local key.

    `root` and `bass` are places on the line of fifths. `shared`, 0..1, is the chance that the chord's notes are chord
    notes: it counts the chord itself, chords that have all its notes and more, and its own triad.
    """

    label: str
    letters: tuple[str, ...]
    root: int
    bass: int | None
    chance: float
    key: LocalKey
    shared: float = 1.0

    @property
    def classes(self) -> frozenset[int]:
        """The chord's pitch classes."""
        return _classes(self.letters)

    def has(self, pitch: Pitch) -> bool:
        """Whether a pitch belongs to the chord."""
        return int(pitch.midi) % 12 in self.classes

    @property
    def six_four(self) -> bool:
        """Whether it is a triad over its own fifth."""
        if len(self.letters) != 3 or self.bass is None:
            return False
        third, fifth = (class_of(letter_place(letter) - self.root) for letter in self.letters[1:])
        return fifth == 7 and third in (3, 4) and class_of(self.bass) == class_of(letter_place(self.letters[2]))

    @property
    def dominant(self) -> bool:
        """Whether it is a major chord, with a seventh or without, on the key's fifth degree."""
        major = any(class_of(letter_place(letter) - self.root) == 4 for letter in self.letters)
        return major and class_of(self.root - self.key[0]) == 7

    def alter(self, step: str) -> int:
        """The alteration of a letter in the scale here: the chord's own, else the key's (natural minor)."""
        for letter in self.letters:
            if letter[0] == step:
                return alter_of(letter)
        tonic, minor = self.key
        return Key(Fraction(0), tonic - (_MINOR_HOME if minor else 0)).alter(step)

    @property
    def scale(self) -> frozenset[int]:
        """The places of the local key on the line of fifths; in minor both forms of the sixth and the seventh."""
        tonic, minor = self.key
        return frozenset((*range(tonic - 4, tonic + 4), tonic + 5) if minor else range(tonic - 1, tonic + 6))

    def spells(self, pitch: Pitch) -> bool:
        """Whether a pitch is spelled as key or chord has it, or narrowed beside a chord note (`Ground.neighbour`)."""
        if place_of(pitch) in self.scale or pitch.letter in self.letters:
            return True
        plain = pitch._replace(alter=self.alter(pitch.step))
        beside = (natural(step) for step in (pitch.diatonic - 1, pitch.diatonic + 1))
        return any(
            self.has(note) and abs(int(note.midi - plain.midi)) == 3 and abs(int(note.midi - pitch.midi)) == 2
            for note in (each._replace(alter=self.alter(each.step)) for each in beside)
        )

    @property
    def leading_class(self) -> int:
        """The pitch class of the local key's leading note."""
        return class_of(self.key[0] + 5)


@cache
def _classes(letters: tuple[str, ...]) -> frozenset[int]:
    return frozenset(class_of(letter_place(letter)) for letter in letters)


class Ground:
    """The harmony under one voice of a score; every answer is kept."""

    def __init__(self, score: Score, harmony: Harmony, part: int, voice: int) -> None:
        self.score, self.harmony, self.own = score, harmony, (part, voice)
        self._known: dict[Fraction, Footing | None] = {}
        self._asked: dict[Fraction, Footing | None] = {}

    def at(self, onset_q: Fraction) -> Footing | None:
        """What is under a printed moment; `None` where there is nothing to build upon."""
        if onset_q not in self._asked:
            self._asked[onset_q] = self._slice(onset_q)
        return self._asked[onset_q]

    def _slice(self, onset_q: Fraction) -> Footing | None:
        bar = self.score.bar_at(onset_q)
        half_q = bar.meter.beat_q / (3 if bar.meter.compound else 2)
        slice_q = bar.onset_q + (onset_q - bar.onset_q) // half_q * half_q
        if slice_q not in self._known:
            self._known[slice_q] = self._find(slice_q)
        return self._known[slice_q]

    def _find(self, onset_q: Fraction) -> Footing | None:
        bar = self.score.bar_at(onset_q)
        key = self.harmony.keys[bar.index]
        printed = printed_at(self.score, onset_q)
        if printed is not None:
            return Footing(printed.label, printed.letters, printed.fifths[0], printed.bass, 1.0, key)
        others = self.harmony.fits.sounding.others(float(bar.onset_q), float(bar.onset_q + bar.length_q), self.own)
        if not len(others):
            return None
        chord, chance = self.harmony.chord_at(onset_q)
        shared = self.harmony.shared_at(onset_q)
        return Footing(chord.label, chord.letters, chord.fifths[0], chord.bass, chance, key, shared)

    def lowest(self, onset_q: Fraction) -> Pitch | None:
        """The lowest note the other voices sound at a moment: what a bass moves by, whatever chord it belongs to."""
        sounding = self.harmony.fits.sounding
        at = float(onset_q)
        found = sounding.lowest(sounding.others(at, at + _MOMENT_Q, self.own))
        return sounding.note(found)[2].sounding if found is not None else None

    def neighbour(self, pitch: Pitch, steps: int, at_q: Fraction, *, rising: bool = False) -> Pitch:
        """The note some letter steps from a pitch, in the scale at a moment; `rising`: bound up to the tonic."""
        footing = self.at(at_q)
        plain = natural(pitch.diatonic + steps)
        if footing is None:
            return plain._replace(alter=pitch.alter if steps == 0 else 0)
        found = plain._replace(alter=footing.alter(plain.step))
        raised = found._replace(alter=found.alter + 1)
        leading = int(raised.midi) % 12 == footing.leading_class and not footing.has(found)
        if leading and (rising or steps == -1):
            found = raised
        return _narrowed(found, pitch, footing) if abs(steps) == 1 else found


def _narrowed(neighbour: Pitch, main: Pitch, footing: Footing) -> Pitch:
    """A neighbour that would be an augmented second away, at a whole tone, unless it is a chord note."""
    gap = int(neighbour.midi - main.midi)
    if abs(gap) < 3 or footing.has(neighbour):
        return neighbour
    return neighbour._replace(alter=neighbour.alter - (gap - 2 if gap > 0 else gap + 2))
