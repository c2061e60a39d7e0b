"""How loud each group is and on which side: levels in dB, and the spread between solo and accompaniment.

A level is heard as it is written: gain in audio, volume (CC 7) in MIDI with dB = 40 log10 of the ratio (SoundFont 2.04,
8.4.5, memory). MIDI volume cannot rise above 127, 4 dB over the usual 100. A part may have a level of its own, in place
of the accompaniment's. Spread 0 leaves all in the middle, 100 has the solo on the left only and the accompaniment on
the right only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from statistics import median

from appui.errors import PlaceError, UsageError
from appui.score.model import Part, Score
from appui.score.solo import find_part

__all__ = [
    "GROUPS",
    "LEVELS_DB",
    "balance",
    "lowest_part",
    "midi_pan",
    "midi_volume",
    "own",
    "own_levels",
    "parse_levels",
]

ACCOMPANIMENT, SOLO, CLICK, DRONE = GROUPS = ("accompaniment", "solo", "click", "drone")
LEVELS_DB = (-60.0, 12.0)
OFF = -math.inf
_SIDES = {SOLO: -1, ACCOMPANIMENT: 1}


def parse_levels(text: str) -> dict[str, float]:
    """Read ``solo=-12,click=off`` as dB by group or part, `-inf` for off; raises `UsageError`.

    >>> parse_levels("solo=-12, click=off")
    {'solo': -12.0, 'click': -inf}
    """
    levels: dict[str, float] = {}
    for word in filter(None, (part.strip() for part in text.split(","))):
        group, _, value = (piece.strip() for piece in word.partition("="))
        if not group:
            raise UsageError(f"levels {text!r}: {word!r} has no name; there are {', '.join(GROUPS)}, and the parts")
        levels[group] = _level(text, value)
    return levels


def own_levels(levels: Mapping[str, float], score: Score, solos: Collection[int]) -> dict[str, float]:
    """The levels with parts by a name that no group has; a solo part (index) is the group ``solo``.

    ``bass`` is the lowest part, where none is called so. Raises `UsageError` for what is neither group nor part.
    """
    found = {name: value for name, value in levels.items() if name in GROUPS}
    for name, value in levels.items():
        if name not in GROUPS:
            part = _part_named(name, score)
            found[SOLO if part.index in solos else own(part.id)] = value
    return found


def own(part: str) -> str:
    """The group of a part, by its id, that has a level of its own."""
    return f"part {part}"


def _part_named(name: str, score: Score) -> Part:
    try:
        return find_part(score, name)
    except PlaceError:
        if name.lower() == "bass" and (lowest := lowest_part(score)) is not None:
            return lowest
        parts = ", ".join(part.name for part in score.parts)
        raise UsageError(
            f"levels: {name!r} is none of {', '.join(GROUPS)} and no part of this score, which has {parts}"
        ) from None


def lowest_part(score: Score, without: Collection[int] = ()) -> Part | None:
    """The part whose notes lie lowest, in the middle of them; parts `without`, by index, are passed over."""
    heights = {
        part.index: median(
            float(note.sounding.midi) for each in part.voices for event in each.events for note in event.notes
        )
        for part in score.parts
        if part.index not in without
        and not part.percussion
        and any(event.notes for each in part.voices for event in each.events)
    }
    return score.parts[min(heights, key=lambda index: heights[index])] if heights else None


def _level(text: str, value: str) -> float:
    if value == "off":
        return OFF
    low, high = LEVELS_DB
    if not re.fullmatch(r"[-+]?\d{1,3}(\.\d{1,3})?", value) or not low <= float(value) <= high:
        raise UsageError(f"levels {text!r}: {value!r} is neither dB from {low:.0f} to {high:.0f} nor off")
    return float(value)


def _side(group: str) -> int:
    return _SIDES.get(ACCOMPANIMENT if group.startswith(own("")) else group, 0)


def balance(group: str, spread: float) -> tuple[float, float]:
    """Gains of the left and right channel at a spread of 0 to 100.

    >>> balance("solo", 100), balance("accompaniment", 50), balance("click", 100)
    ((1.0, 0.0), (0.5, 1.0), (1.0, 1.0))
    """
    side = _side(group) * spread / 100
    return min(1.0, 1.0 - side), min(1.0, 1.0 + side)


def midi_pan(group: str, spread: float) -> int:
    """CC 10, 64 in the middle."""
    side = _side(group) * spread / 100
    return round(64 + side * (63 if side > 0 else 64))


def midi_volume(volume: int, level_db: float) -> int:
    """CC 7 of a part so many dB away from its own volume."""
    return 0 if level_db == OFF else max(1, min(127, round(volume * 10 ** (level_db / 40))))


def level_of(levels: Mapping[str, float], group: str) -> float:
    """The level of a group, 0 dB where nothing was said."""
    return levels.get(group, 0.0)
