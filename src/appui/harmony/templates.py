"""Chord types: what a chord is made of, spelled on the line of fifths, and how common it is.

A place on the line of fifths (…, Bb -2, F -1, C 0, G 1, …) keeps the spelling: a major third is four fifths up, a
minor third three down. `prior` is the natural logarithm of how much rarer a type is than a major triad (a study on
expert-labelled scores: major 0, minor and dominant seventh slightly less, others rare).
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["CHORDS", "TYPES", "Chord", "ChordType"]


class ChordType(NamedTuple):
    """A type of chord: `semitones` and `fifths` of its notes above the root, in thirds; `suffix` for its label."""

    name: str
    suffix: str
    semitones: tuple[int, ...]
    fifths: tuple[int, ...]
    prior: float


# fmt: off
#          name                   suffix   semitones         fifths            prior
TYPES = (
    ChordType("major",              "",      (0, 4, 7),        (0, 4, 1),        0.0),
    ChordType("minor",              "m",     (0, 3, 7),        (0, -3, 1),       -0.3),
    ChordType("dominant seventh",   "7",     (0, 4, 7, 10),    (0, 4, 1, -2),    -0.4),
    ChordType("diminished",         "dim",   (0, 3, 6),        (0, -3, -6),      -1.6),
    ChordType("diminished seventh", "dim7",  (0, 3, 6, 9),     (0, -3, -6, -9),  -1.2),
    ChordType("half-diminished",    "m7b5",  (0, 3, 6, 10),    (0, -3, -6, -2),  -1.6),
    ChordType("minor seventh",      "m7",    (0, 3, 7, 10),    (0, -3, 1, -2),   -1.6),
    ChordType("major seventh",      "maj7",  (0, 4, 7, 11),    (0, 4, 1, 5),     -2.6),
)
# fmt: on


class Chord(NamedTuple):
    """One chord of the state space: a root pitch class (0..11) and a type."""

    root: int
    type: ChordType

    @property
    def classes(self) -> tuple[int, ...]:
        """Its pitch classes, root first."""
        return tuple((self.root + semitone) % 12 for semitone in self.type.semitones)


CHORDS: tuple[Chord, ...] = tuple(Chord(root, kind) for kind in TYPES for root in range(12))
