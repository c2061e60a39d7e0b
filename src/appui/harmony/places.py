"""Places on the line of fifths: C 0, G 1, F -1, B flat -2. They keep the spelling, and an interval is a difference."""

from __future__ import annotations

from appui.score.pitch import LETTERS, Pitch, alter_of

__all__ = ["letter_place", "place_of", "step_letter"]

_PLACES = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


def letter_place(letter: str) -> int:
    """The place of a spelled letter.

    >>> letter_place("Bb"), letter_place("F#")
    (-2, 6)
    """
    return _PLACES[letter[0]] + 7 * alter_of(letter)


def place_of(pitch: Pitch) -> int:
    """The place of a pitch; a quarter tone counts as the whole tone below it.

    >>> place_of(Pitch("B", -1, 4))
    -2
    """
    return _PLACES[pitch.step] + 7 * int(pitch.alter)


def step_letter(bass: Pitch, step: int) -> str:
    """The letter an interval above the bass: a third above C is E, whatever its alteration."""
    return LETTERS[(bass.diatonic + step - 1) % 7]
