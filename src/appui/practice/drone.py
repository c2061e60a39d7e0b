"""A drone: one degree of the key, or a note, held under the music for intonation.

Or ``bass``: the lowest note of the accompaniment on each beat, held until there is another.

It sounds on an organ-like program below middle C, tuned as everything else; a level of -10 dB suits most places.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from operator import attrgetter

from appui.exact import Fraction
from appui.perform.model import PerformedNote, PerformedPart
from appui.score.pitch import LETTERS, Pitch, parse_pitch

__all__ = ["BASS", "DRONE_PROGRAM", "bass_part", "drone_part", "drone_pitch"]

BASS = "bass"

DRONE_PROGRAM = 16  # General MIDI, drawbar organ (read), 0-based
_VELOCITY = 72
_OCTAVE = 3
#  so little after the beat a note still is the beat's: chords are broken, small notes go before
_LATE_Q = Fraction(1, 8)
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


def bass_part(
    parts: Iterable[PerformedPart], beats: Iterable[Fraction], seconds: Callable[[Fraction], float]
) -> PerformedPart:
    """The part that holds the bass of some others: on each beat (quarters) their lowest note, until there is another.

    `seconds` gives the seconds of a moment in quarters. Where nothing sounds on a beat the drone is silent.
    """
    notes = sorted((n for part in parts if not part.percussion for n in part.notes), key=attrgetter("onset_q"))
    moments = sorted(set(beats))
    held: list[tuple[Fraction, Pitch | None]] = []
    sounding: list[PerformedNote] = []
    waiting = iter([*notes, None])
    following = next(waiting)
    for at_q in moments:
        while following is not None and following.onset_q <= at_q + _LATE_Q:
            sounding.append(following)
            following = next(waiting)
        sounding = [note for note in sounding if note.onset_q + note.duration_q > at_q + _LATE_Q]
        lowest = min(sounding, key=lambda note: note.key).pitch if sounding else None
        if not held or held[-1][1] != lowest:
            held.append((at_q, lowest))
    ends = [at_q for at_q, _ in held[1:]] + [max((n.onset_q + n.duration_q for n in notes), default=Fraction(0))]
    made = tuple(
        _held_note(at_q, end_q, pitch, seconds)
        for (at_q, pitch), end_q in zip(held, ends, strict=True)
        if pitch is not None and end_q > at_q
    )
    return PerformedPart("drone", "Drone on the bass", DRONE_PROGRAM, made)


def _held_note(at_q: Fraction, end_q: Fraction, pitch: Pitch, seconds: Callable[[Fraction], float]) -> PerformedNote:
    start_s, end_s = seconds(at_q), seconds(end_q)
    return PerformedNote(at_q, end_q - at_q, start_s, end_s - start_s, pitch, int(pitch.midi), _VELOCITY, "drone")
