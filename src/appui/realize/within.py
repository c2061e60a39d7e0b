"""Signs over small notes: what is played in the small note's time.

    trill          upper main upper main, or main upper main as the reading starts
    turn           upper main lower main
    mordent        main lower main

C.P.E. Bach 1753, 2.1 §19 (read): the more notes, the longer the note must be; where the small note is too short for
them it is played plain.
"""

from __future__ import annotations

from collections.abc import Callable

from appui.score.pitch import Pitch
from appui.style.reading import Reading

__all__ = ["played_within"]

#          reading, how it starts      letter steps
_STEPS = {
    ("trill", "upper"): (1, 0, 1, 0),
    ("trill", "main"): (0, 1, 0),
    ("turn", "upright"): (1, 0, -1, 0),
    ("turn", "inverted"): (-1, 0, 1, 0),
    ("mordent", ""): (0, -1, 0),
    ("slide", ""): (-2, -1, 0),
}


def played_within(reading: Reading, auxiliary: Callable[[int], Pitch]) -> tuple[Pitch, ...]:
    """The pitches in place of one small note; empty for a reading that leaves it plain."""
    starts = {"trill": reading.get("start") or "upper", "turn": reading.get("shape") or "upright"}
    start = starts.get(reading.name, "")
    steps = _STEPS.get((reading.name, str(start if (reading.name, str(start)) in _STEPS else "main")), ())
    return tuple(auxiliary(step) for step in steps)
