"""What is to be played over a bass note: the tones of the chord and what each of them asks for.

Conventions
    A place is a step on the line of fifths (C 0, G 1, F -1), which keeps the spelling. Times are printed quarter notes.
    Costs have no unit; they are weighed against a semitone of movement in one voice, which costs 1.
"""

from __future__ import annotations

from typing import NamedTuple

from appui.exact import Fraction
from appui.harmony.spelling import letter_of
from appui.score.pitch import Pitch, alter_of

__all__ = ["NEVER", "Chord", "Tone", "near_pitch", "pitch_in"]

#  what no voicing may do unless there is no other
NEVER = 400.0


class Tone(NamedTuple):
    """One tone of a chord, above the bass.

    `missing` and `doubled` are the costs of leaving it out and of playing it twice (the bass counted). `falls`: it must
    go on down by step; over a held bass only where `falls` is ``held``. `rises`: a leading note. `prepared`: it should
    have sounded before, in the same voice.
    """

    place: int
    missing: float = 60.0
    doubled: float = 4.0
    falls: str = ""
    rises: bool = False
    prepared: bool = False


class Chord(NamedTuple):
    """A chord over a bass note, from its onset to the next one; `leaving` is the bass as the chord is left."""

    onset_q: Fraction
    end_q: Fraction
    bass: Pitch
    tones: tuple[Tone, ...]
    leaving: Pitch

    def tone(self, place: int) -> Tone | None:
        """The tone at a place on the line of fifths, or `None`."""
        return next((tone for tone in self.tones if tone.place == place), None)

    @property
    def places(self) -> frozenset[int]:
        """The places of its tones, the bass among them only where it may be doubled."""
        return frozenset(tone.place for tone in self.tones)


def pitch_in(place: int, octave: int) -> Pitch:
    """The pitch of a place in an octave.

    >>> pitch_in(-2, 4).name
    'Bb4'
    """
    letter = letter_of(place)
    return Pitch(letter[0], alter_of(letter), octave)


def near_pitch(place: int, near: int, low: int, high: int) -> Pitch:
    """The pitch of a place nearest to a key, within two keys at least an octave apart; the lower of two as near."""
    found = [pitch for octave in range(9) if low <= (pitch := pitch_in(place, octave)).midi <= high]
    return min(found, key=lambda pitch: (abs(pitch.midi - near), pitch.midi))
