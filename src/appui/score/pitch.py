"""Spelled pitch: a letter, an alteration in semitones, an octave (scientific, C4 = middle C, MIDI key 60).

Spelling is kept because a leaning note is judged by it: G sharp against A is a leading note, A flat against A a
mistake. Written pitch is what the player reads, sounding pitch what is heard; `Transposition` goes between them.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from appui.exact import Fraction

__all__ = ["LETTERS", "Pitch", "Transposition", "alter_of", "natural", "parse_pitch", "spell"]

LETTERS = "CDEFGAB"
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ALTER_NAMES: dict[Fraction | int, str] = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_PITCH = re.compile(r"([A-G])(bb|b|##|#)?(-?\d+)")


class Pitch(NamedTuple):
    """A spelled pitch; `alter` in semitones (a `Fraction` for quarter tones), `octave` scientific.

    >>> Pitch("B", -1, 4).name, Pitch("B", -1, 4).midi
    ('Bb4', 70)
    """

    step: str
    alter: int | Fraction
    octave: int

    @property
    def midi(self) -> int | Fraction:
        """MIDI key number, 60 for C4; fractional for quarter tones."""
        return 12 * (self.octave + 1) + _SEMITONES[self.step] + self.alter

    @property
    def diatonic(self) -> int:
        """Number of letter steps above C0: two pitches a step apart differ by 1 whatever their alteration."""
        return 7 * self.octave + LETTERS.index(self.step)

    @property
    def letter(self) -> str:
        """Spelled pitch class, plain text: ``Bb``, ``F#``; quarter tones as ``C(+1/2)``."""
        mark = _ALTER_NAMES.get(Fraction(self.alter))
        return f"{self.step}({'+' if self.alter > 0 else ''}{self.alter})" if mark is None else self.step + mark

    @property
    def name(self) -> str:
        """Spelled pitch, plain text, as in files and JSON: ``Bb4``."""
        return f"{self.letter}{self.octave}"

    @property
    def pretty(self) -> str:
        """Spelled pitch for reading: ``B♭4``."""
        return self.name.replace("b", "♭").replace("#", "♯")


def natural(diatonic: int) -> Pitch:
    """The unaltered pitch so many letter steps above C0: the other way of `Pitch.diatonic`.

    >>> natural(Pitch("E", -1, 4).diatonic).name
    'E4'
    """
    return Pitch(LETTERS[diatonic % 7], 0, diatonic // 7)


def alter_of(letter: str) -> int:
    """The alteration of a spelled letter in semitones.

    >>> alter_of("Bb"), alter_of("F##")
    (-1, 2)
    """
    return letter.count("#") - letter[1:].count("b")


class Transposition(NamedTuple):
    """What must be added to a written pitch to get the sounding one (MusicXML 4.0 `transpose`, read).

    `diatonic` in letter steps, `chromatic` in semitones, both including octave changes.
    """

    diatonic: int = 0
    chromatic: int | Fraction = 0

    def sounding(self, written: Pitch) -> Pitch:
        """The pitch that sounds when `written` is read.

        >>> Transposition(-1, -2).sounding(Pitch("C", 0, 5)).name   # clarinet in B flat
        'Bb4'
        """
        return written if not self.diatonic and not self.chromatic else _shift(written, self.diatonic, self.chromatic)

    @property
    def fifths(self) -> int:
        """How many fifths it goes up, so how many sharps more the music sounds with.

        >>> Transposition(-1, -2).fifths   # clarinet in B flat
        -2
        """
        sounding = self.sounding(Pitch("C", 0, 4))
        return "FCGDAEB".index(sounding.step) - 1 + 7 * int(sounding.alter)

    def written(self, sounding: Pitch) -> Pitch:
        """The pitch to write so that `sounding` is heard."""
        return _shift(sounding, -self.diatonic, -self.chromatic)


def _shift(pitch: Pitch, diatonic: int, chromatic: int | Fraction) -> Pitch:
    octave, letter = divmod(pitch.diatonic + diatonic, 7)
    step = LETTERS[letter]
    return Pitch(step, pitch.midi + chromatic - 12 * (octave + 1) - _SEMITONES[step], octave)


def spell(step: str, alter: int | Fraction, near: Pitch, *, above: bool) -> Pitch:
    """The nearest pitch of that letter and alteration above (or below) `near`, at least one letter step away."""
    letter = LETTERS.index(step)
    start = near.diatonic + (1 if above else -1)
    gap = (letter - start) % 7 if above else -((start - letter) % 7)
    return Pitch(step, alter, (start + gap) // 7)


def parse_pitch(text: str) -> Pitch:
    """Read ``Bb4``; raises `ValueError` for anything else."""
    match = _PITCH.fullmatch(text)
    if not match:
        raise ValueError(f"{text!r} is not a pitch such as Bb4 or F#5")
    step, mark, octave = match.groups()
    alter = {"bb": -2, "b": -1, "#": 1, "##": 2}.get(mark or "", 0)
    return Pitch(step, alter, int(octave))
