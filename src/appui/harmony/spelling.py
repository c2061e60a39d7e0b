"""Naming chords: letters from the line of fifths, labels, figures, Roman numerals, intervals in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from appui.harmony.templates import Chord, ChordType
from appui.score.pitch import Pitch

__all__ = ["NamedChord", "class_of", "figure_of", "interval_word", "letter_of", "name_chord", "roman_of"]

_LETTERS = "FCGDAEB"
_FIGURES = {3: ("", "6", "6/4"), 4: ("7", "6/5", "4/3", "4/2")}
_INTERVALS = ("an octave", "a second", "a third", "a fourth", "a fifth", "a sixth", "a seventh")
_DEGREES = ("I", "II", "III", "IV", "V", "VI", "VII")
_POSITIONS = ("root position", "first inversion", "second inversion", "third inversion")


def letter_of(fifth: int) -> str:
    """A place on the line of fifths as a letter: 0 is C, -2 Bb, 6 F#.

    >>> letter_of(0), letter_of(-2), letter_of(6)
    ('C', 'Bb', 'F#')
    """
    turns, place = divmod(fifth + 1, 7)
    return _LETTERS[place] + ("#" * turns if turns > 0 else "b" * -turns)


def class_of(fifth: int) -> int:
    """The pitch class (0..11) of a place on the line of fifths."""
    return fifth * 7 % 12


@dataclass(frozen=True, slots=True)
class NamedChord:
    """A chord with its spelling: `fifths` in thirds from the root.

    `bass` the place of the lowest note, `None` unknown.
    """

    type: ChordType
    fifths: tuple[int, ...]
    bass: int | None

    @property
    def root(self) -> str:
        """The root as a letter."""
        return letter_of(self.fifths[0])

    @property
    def letters(self) -> tuple[str, ...]:
        """Its notes as letters, in thirds from the root."""
        return tuple(letter_of(fifth) for fifth in self.fifths)

    @property
    def bass_letter(self) -> str:
        """The lowest note as a letter, empty where nothing is below."""
        return "" if self.bass is None else letter_of(self.bass)

    @property
    def label(self) -> str:
        """Chord name: ``G7/B``."""
        over = (
            f"/{self.bass_letter}" if self.bass is not None and class_of(self.bass) != class_of(self.fifths[0]) else ""
        )
        return f"{self.root}{self.type.suffix}{over}"

    @property
    def inversion(self) -> int | None:
        """Which chord note is lowest: 0 the root; `None` for a bass foreign to the chord."""
        if self.bass is None:
            return 0
        classes = [class_of(fifth) for fifth in self.fifths]
        return classes.index(class_of(self.bass)) if class_of(self.bass) in classes else None

    @property
    def position(self) -> str:
        """The inversion in words."""
        return f"over {self.bass_letter}" if self.inversion is None else _POSITIONS[self.inversion]


def name_chord(chord: Chord, sounding: Sequence[int], bass: int | None, key_fifths: int) -> NamedChord:
    """Spell a chord: by the spelled notes that sound (places on the line of fifths), else near the key.

    A diminished seventh may be read from any of its notes: the spelling that fits what is printed decides.
    """
    roots = {chord.root} if chord.type.name != "diminished seventh" else {(chord.root + 3 * i) % 12 for i in range(4)}
    printed = set(sounding)
    best = max(
        ((root * 7) % 12 + 12 * turn for root in roots for turn in (-2, -1, 0)),
        key=lambda f: (len(printed & {f + g for g in chord.type.fifths}), -abs(f + 1 - key_fifths), f == bass),
    )
    return NamedChord(chord.type, tuple(best + gap for gap in chord.type.fifths), bass)


def figure_of(chord: NamedChord) -> str:
    """Figured-bass shorthand: empty, 6, 6/4, 7, 6/5, 4/3, 4/2; empty for a foreign bass."""
    return "" if chord.inversion is None else _FIGURES[min(len(chord.fifths), 4)][chord.inversion]


def roman_of(chord: NamedChord, tonic: int, *, minor: bool) -> str:
    """Roman numeral in a key (`tonic` on the line of fifths), with figures: ``V6/5``, ``ii``, ``#ivo7``."""
    scale = (0, 2, -3, -1, 1, -4, -2) if minor else (0, 2, 4, -1, 1, 3, 5)
    gap = chord.fifths[0] - tonic
    degree = next((d for d, fifth in enumerate(scale) if fifth == gap), None)
    mark = ""
    if degree is None:
        degree = min(range(7), key=lambda d: abs((gap - scale[d]) // 7) if (gap - scale[d]) % 7 == 0 else 99)
        turns = (gap - scale[degree]) // 7 if (gap - scale[degree]) % 7 == 0 else 0
        mark = "#" * turns if turns > 0 else "b" * -turns
    small = chord.type.semitones[1] == 3
    numeral = _DEGREES[degree].lower() if small else _DEGREES[degree]
    sign = {"diminished": "o", "diminished seventh": "o", "half-diminished": "ø"}.get(chord.type.name, "")
    return mark + numeral + sign + figure_of(chord)


def interval_word(upper: Pitch, lower: Pitch) -> str:
    """The interval above, without octaves: ``a fourth``; ``an octave`` for the same letter."""
    return _INTERVALS[(upper.diatonic - lower.diatonic) % 7]
