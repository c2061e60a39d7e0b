"""What was heard of the line, however it came: from a sound file or a MIDI file.

Conventions: seconds from the beginning of the take; `nan` for what is not known; levels in dB.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

__all__ = ["HeardFigure", "HeardLine", "HeardNotes", "HeardTrill"]


class HeardNotes(NamedTuple):
    """The small notes of one place: when each begins, when the main note does and ends, and what speaks for them.

    `evidence` is the logarithm of how much better the sound fits with them than without. `before_same` says that the
    first small note has the pitch of what precedes, `main_same` that the last has that of the main note: then only a
    stroke tells where it begins. `strokes` are those heard around, each a moment and how clear it is (1: clear).
    `exact` says that levels are known, not heard.
    """

    small_s: tuple[float, ...]
    main_s: float
    end_s: float
    evidence: float
    small_db: float
    main_db: float
    before_same: bool = False
    main_same: bool = False
    strokes: tuple[tuple[float, float], ...] = ()
    exact: bool = False


class HeardTrill(NamedTuple):
    """A trill: when each of its notes begins, and the key of each.

    `held` says whether its first note may have been held over from the note before: then a slurred beginning on it
    cannot be heard. `led_to` says that small notes of the same pitches lead to it.
    """

    starts_s: tuple[float, ...]
    keys: tuple[int, ...]
    end_s: float
    held: bool = False
    led_to: bool = False


class HeardFigure(NamedTuple):
    """The few notes around a main note, itself the last: when each begins, and the key of each.

    `evidence` is the logarithm of how much better the sound fits with them than with the main note alone, `over_other`
    than with any other form, `over_near` than with neighbours a semitone off. `alone_s` is where the main note begins
    if it is alone.
    """

    starts_s: tuple[float, ...]
    keys: tuple[int, ...]
    end_s: float
    evidence: float
    over_other: float
    over_near: float
    alone_s: float


@dataclass(frozen=True, slots=True)
class HeardLine:
    """What was heard of a line: the start of each step, whether it is clear, how well the step fits (0 to 1).

    `notes`, `trills` and `figures` go by the number of the place in the line.
    """

    starts_s: tuple[float, ...]
    ends_s: tuple[float, ...]
    clear: tuple[bool, ...]
    fit: tuple[float, ...]
    notes: dict[int, HeardNotes]
    trills: dict[int, HeardTrill]
    a4_hz: float
    length_s: float
    figures: dict[int, HeardFigure] = field(default_factory=dict)
