"""How loud each group is and on which side: levels in dB, and the spread between solo and accompaniment.

A level is heard as it is written: gain in audio, volume (CC 7) in MIDI with dB = 40 log10 of the ratio (SoundFont 2.04,
8.4.5, memory). MIDI volume cannot rise above 127, 4 dB over the usual 100. Spread 0 leaves all in the middle, 100 has
the solo on the left only and the accompaniment on the right only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from appui.errors import UsageError

__all__ = ["GROUPS", "LEVELS_DB", "balance", "midi_pan", "midi_volume", "parse_levels"]

ACCOMPANIMENT, SOLO, CLICK, DRONE = GROUPS = ("accompaniment", "solo", "click", "drone")
LEVELS_DB = (-60.0, 12.0)
OFF = -math.inf
_SIDES = {SOLO: -1, ACCOMPANIMENT: 1}


def parse_levels(text: str) -> dict[str, float]:
    """Read ``solo=-12,click=off`` as dB by group, `-inf` for off; raises `UsageError`.

    >>> parse_levels("solo=-12, click=off")
    {'solo': -12.0, 'click': -inf}
    """
    levels: dict[str, float] = {}
    for word in filter(None, (part.strip() for part in text.split(","))):
        group, _, value = (piece.strip() for piece in word.partition("="))
        if group not in GROUPS:
            raise UsageError(f"levels {text!r}: {group!r} is none of {', '.join(GROUPS)}")
        levels[group] = _level(text, value)
    return levels


def _level(text: str, value: str) -> float:
    if value == "off":
        return OFF
    low, high = LEVELS_DB
    if not re.fullmatch(r"[-+]?\d{1,3}(\.\d{1,3})?", value) or not low <= float(value) <= high:
        raise UsageError(f"levels {text!r}: {value!r} is neither dB from {low:.0f} to {high:.0f} nor off")
    return float(value)


def balance(group: str, spread: float) -> tuple[float, float]:
    """Gains of the left and right channel at a spread of 0 to 100.

    >>> balance("solo", 100), balance("accompaniment", 50), balance("click", 100)
    ((1.0, 0.0), (0.5, 1.0), (1.0, 1.0))
    """
    side = _SIDES.get(group, 0) * spread / 100
    return min(1.0, 1.0 - side), min(1.0, 1.0 + side)


def midi_pan(group: str, spread: float) -> int:
    """CC 10, 64 in the middle."""
    side = _SIDES.get(group, 0) * spread / 100
    return round(64 + side * (63 if side > 0 else 64))


def midi_volume(volume: int, level_db: float) -> int:
    """CC 7 of a part so many dB away from its own volume."""
    return 0 if level_db == OFF else max(1, min(127, round(volume * 10 ** (level_db / 40))))


def level_of(levels: Mapping[str, float], group: str) -> float:
    """The level of a group, 0 dB where nothing was said."""
    return levels.get(group, 0.0)
