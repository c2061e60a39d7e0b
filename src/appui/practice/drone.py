"""A drone: one degree of the key, or a note, held under the music for intonation.

It sounds on an organ-like program below middle C, tuned as everything else; a level of -10 dB suits most places.
"""

from __future__ import annotations

import re

from appui.exact import Fraction
from appui.perform.model import PerformedNote, PerformedPart
from appui.score.pitch import LETTERS, Pitch, parse_pitch

__all__ = ["DRONE_PROGRAM", "drone_part", "drone_pitch"]

DRONE_PROGRAM = 16  # General MIDI, drawbar organ (read), 0-based
_VELOCITY = 72
_OCTAVE = 3
_SHARPS = "FCGDAEB"
_MINOR_TONIC = 5  # letters above the tonic of the major key with the same signature


def drone_pitch(words: str, key: str) -> Pitch:
    """The pitch of a degree 1 to 7 of a key (``-3 minor``), as its signature has it, or of a note.

    >>> drone_pitch("5", "-3 minor").name, drone_pitch("Bb", "0 major").name
    ('G3', 'Bb3')
    """
    if not words.isdecimal():
        return parse_pitch(words if re.search(r"\d$", words) else f"{words}{_OCTAVE}")
    signature, mode = key.split()
    fifths = int(signature)
    tonic = (4 * fifths + (_MINOR_TONIC if mode == "minor" else 0)) % 7
    step = LETTERS[(tonic + int(words) - 1) % 7]
    place = _SHARPS.index(step)
    alter = (fifths - place + 6) // 7 if fifths >= 0 else -((-fifths - (6 - place) + 6) // 7)
    return Pitch(step, alter, _OCTAVE)


def drone_part(words: str, key: str, length_q: Fraction, length_s: float) -> PerformedPart:
    """The part that holds it so long."""
    pitch = drone_pitch(words, key)
    note = PerformedNote(Fraction(0), length_q, 0.0, length_s, pitch, int(pitch.midi), _VELOCITY, "drone")
    return PerformedPart("drone", f"Drone {pitch.letter}", DRONE_PROGRAM, (note,))
