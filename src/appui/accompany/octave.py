"""The rule of the octave: what to play over a bass note without figures, by its degree and by where it goes.

The scale in the bass as teaching books have harmonized it since early in the 18th century, in its plain form (memory,
M). The sixth degree of minor going down takes a plain sixth here; others raise it to an augmented one. Notes that leap
take the chord their degree has most often (common practice, no source).
"""

from __future__ import annotations

import re

from appui.harmony.figured_bass import COMPLETIONS, Step
from appui.harmony.places import letter_place, place_of, step_letter
from appui.score.pitch import Pitch

__all__ = ["OCTAVE", "octave_steps", "scale_alter"]

#  fifths above the tonic: figures when the bass leaps on, steps up, steps down; + raises what the local scale has
# fmt: off
OCTAVE: dict[bool, dict[int, tuple[str, str, str]]] = {
    False: {
        0:  ("",    "",      ""),
        2:  ("6",   "6/4/3", "6/4/3"),
        4:  ("6",   "6",     "6"),
        -1: ("",    "6/5",   "4/2"),
        1:  ("",    "",      ""),
        3:  ("",    "6",     "+6/4/3"),
        5:  ("6",   "6/5",   "6"),
    },
    True: {
        0:  ("",    "",       ""),
        2:  ("6",   "+6/4/3", "+6/4/3"),
        -3: ("6",   "6",      "6"),
        -1: ("",    "6/5",    "+4/2"),
        1:  ("+3",  "+3",     "+3"),
        -4: ("",    "6",      "6"),
        3:  ("6",   "6",      "6"),
        -2: ("6",   "6",      "6"),
        5:  ("6",   "6/5",    "6"),
    },
}
# fmt: on
#  a chromatic note: raised it is a leading note of its own, lowered it bears a sixth
_RAISED, _LOWERED = "6/5", "6"
_SCALES = {False: (0, 2, 4, -1, 1, 3, 5), True: (0, 2, -3, -1, 1, -4, -2)}


def scale_alter(letter: str, tonic: int, *, minor: bool) -> int:
    """What a major or natural minor scale does to a letter.

    >>> scale_alter("E", 0, minor=True)
    -1
    """
    place = letter_place(letter)
    return next((tonic + gap - place) // 7 for gap in _SCALES[minor] if (tonic + gap - place) % 7 == 0)


def octave_steps(bass: Pitch, following: Pitch | None, tonic: int, *, minor: bool) -> tuple[Step, ...]:
    """The steps over an unfigured bass note, by the next one (`None` at an end or before a rest)."""
    move = 0 if following is None else following.diatonic - bass.diatonic
    row = OCTAVE[minor].get(place_of(bass) - tonic)
    chromatic = _RAISED if place_of(bass) - tonic > 5 else _LOWERED
    text = chromatic if row is None else row[{1: 1, -1: 2}.get(move, 0)]
    raised = {int(number) for number in re.findall(r"\+(\d)", text)}
    numbers = tuple(int(number) for number in re.findall(r"\d", text) if number != "3" or "4" in text)
    steps = []
    for word in COMPLETIONS[numbers].split():
        number = int(re.match(r"\d+", word).group())  # type: ignore[union-attr]
        marks = word[len(str(number)) :]
        alter = int(bass.alter) if number == 8 else scale_alter(step_letter(bass, number), tonic, minor=minor)
        # over a raised leading note of minor the sixth-five keeps the scale; only marked steps are raised
        steps.append(Step(number, alter + (number in raised), marks))
    return tuple(steps)
