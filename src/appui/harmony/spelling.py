"""Naming chords: letters from the line of fifths, labels, positions, figures, intervals in words.

A dominant seventh whose seventh is printed as an augmented sixth (A flat C E flat F sharp) is named for what it is
spelled as: a German sixth, or an Italian one where its fifth is missing.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from appui.harmony.templates import Chord, ChordType
from appui.score.pitch import Pitch

__all__ = ["NamedChord", "class_of", "figure_of", "interval_word", "letter_of", "name_chord"]

_LETTERS = "FCGDAEB"
_FIGURES = {3: ("", "6", "6/4"), 4: ("7", "6/5", "4/3", "4/2")}
_INTERVALS = ("an octave", "a second", "a third", "a fourth", "a fifth", "a sixth", "a seventh")
_POSITIONS = ("root position", "first inversion", "second inversion", "third inversion")
_GERMAN = ChordType("German sixth", " Ger6", (0, 4, 7, 10), (0, 4, 1, 10), 0.0)
_ITALIAN = ChordType("Italian sixth", " It6", (0, 4, 10), (0, 4, 10), 0.0)
#  an augmented sixth stands on its lowered note, so its figures are not those of a chord in thirds
#  fifths from the tonic: augmented sixths stand on the lowered sixth degree, or on that of the fourth or fifth
_SIXTH_STANDS = (-4, -5, -3)
_SIXTHS = {"German sixth": ("6/5", "4/3", "4/2", "7"), "Italian sixth": ("6", "6/4", "")}


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


class NamedChord(NamedTuple):
    """A chord with its spelling: `fifths` in thirds from the root.

    `bass` the place of the lowest note, `None` unknown.
    """

    type: ChordType
    fifths: tuple[int, ...]
    bass: int | None

    @property
    def root(self) -> str:
        """The root as a letter; of an augmented sixth the lowered note it stands on."""
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
        """Which chord note is lowest: 0 the root; `None` for an unknown bass or one foreign to the chord."""
        if self.bass is None:
            return None
        classes = [class_of(fifth) for fifth in self.fifths]
        return classes.index(class_of(self.bass)) if class_of(self.bass) in classes else None

    @property
    def position(self) -> str:
        """The inversion in words; empty where no bass sounds."""
        if self.bass is None:
            return ""
        if self.inversion is None or self.type.name in _SIXTHS:
            return f"over {self.bass_letter}"
        return _POSITIONS[self.inversion]


def name_chord(chord: Chord, sounding: Collection[int], bass: int | None, key: tuple[int, bool]) -> NamedChord:
    """Spell a chord: by the spelled notes that sound (places on the line of fifths), else near the local key.

    `key` is the tonic on the line of fifths and whether it is minor. A diminished seventh may be read from any of its
    notes: the spelling that fits what is printed decides.
    """
    roots = {chord.root} if chord.type.name != "diminished seventh" else {(chord.root + 3 * i) % 12 for i in range(4)}
    printed = set(sounding)
    home = key[0] - (3 if key[1] else 0)
    root, kind = max(
        (((root * 7) % 12 + 12 * turn, kind) for root in roots for turn in (-2, -1, 0, 1) for kind in _kinds(chord)),
        key=lambda found: (
            found[1] is not _GERMAN or found[0] - key[0] in _SIXTH_STANDS,
            len(printed & {found[0] + gap for gap in found[1].fifths}),
            found[1] is chord.type,
            -abs(found[0] + 1 - home),
            found[0] == bass,
        ),
    )
    if kind is _GERMAN and root + 1 not in printed:
        kind = _ITALIAN
    return NamedChord(kind, tuple(root + gap for gap in kind.fifths), bass)


def _kinds(chord: Chord) -> Sequence[ChordType]:
    return (chord.type, _GERMAN) if chord.type.name == "dominant seventh" else (chord.type,)


def figure_of(chord: NamedChord) -> str:
    """Figured-bass shorthand: empty, 6, 6/4, 7, 6/5, 4/3, 4/2.

    A foreign bass has none; where no bass is known the chord is taken to stand on its root.
    """
    if chord.bass is not None and chord.inversion is None:
        return ""
    figures = _SIXTHS.get(chord.type.name) or _FIGURES[len(chord.fifths)]
    return figures[chord.inversion or 0]


def interval_word(upper: Pitch, lower: Pitch) -> str:
    """The interval above, without octaves: ``a fourth``; ``an octave`` for the same letter."""
    return _INTERVALS[(upper.diatonic - lower.diatonic) % 7]
