"""What is said of a trill: how quick it is, how many notes it has, on which it begins, how it ends.

After a note of one of its own pitches, slurred, its first note may make no sound of its own: then the first note of the
other pitch tells, which is on the beat or a note after it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

from appui.listen.beat import SURE, Beat, near, odds
from appui.listen.heard import HeardTrill

__all__ = ["TrillHeard", "Trilled", "say_trill"]

#  fewer notes are no trill
_FEWEST = 4
#  two notes of a trill count for its speed where they last so much longer or shorter, at most, than two usually do
_PAIR_AWAY = 0.35


@dataclass(frozen=True, slots=True)
class TrillHeard:
    """A trill in words' reach: its speed (notes a second), its first note, how many notes, its ending.

    `starts_s` and `keys` are of the notes that were heard one by one, the termination among them. Where the notes that
    end it are printed, they are no termination, and `printed_end` says whether they are heard.
    """

    rate: float
    first: Literal["upper", "main", "lower"]
    count: int
    ending: Literal["plain", "termination"]
    first_sure: bool
    starts_s: tuple[float, ...] = ()
    keys: tuple[int, ...] = ()
    printed_end: bool | None = None


class Trilled(NamedTuple):
    """What a trill stands on: its main key, the key before it, those printed at its end, its beat, the spread (s)."""

    key: int
    before: int | None
    after: tuple[int, ...]
    beat: Beat
    spread_s: float


def say_trill(heard: HeardTrill, ground: Trilled) -> TrillHeard | None:
    """What is said of a trill; `None` where none is heard."""
    key = ground.key
    if len(heard.starts_s) < _FEWEST:
        return None
    low = [number for number in range(len(heard.keys) - 3, len(heard.keys)) if heard.keys[number] < key]
    count = low[0] if low else len(heard.keys)
    rate = 1 / _usual_length(heard, count)
    first: Literal["upper", "main", "lower"] = "main"
    if heard.keys[0] != key:
        first = "upper" if heard.keys[0] > key else "lower"
    sure = not heard.held
    if heard.held and not heard.led_to and ground.before is not None and math.isfinite(ground.spread_s):
        other, begun = _first_other(heard, ground.before, ground.beat, ground.spread_s, 1 / rate)
        sure = max(begun, 1 - begun) >= SURE
        # the notes from the first of another pitch on, and before them the one that is not heard apart
        count += int(begun > 0.5) - other
        first = "upper" if (begun > 0.5) == (ground.before > key) else "main"
    printed = any(each < key for each in ground.after)
    ending: Literal["plain", "termination"] = "termination" if low and not printed else "plain"
    printed_end = bool(low) if printed else None
    return TrillHeard(rate, first, count, ending, sure, heard.starts_s, heard.keys, printed_end)


def _first_other(heard: HeardTrill, held: int, beat: Beat, spread: float, length: float) -> tuple[int, float]:
    """The first note that is not of the pitch of the note before, `held`; the chance that one of that pitch came first.

    Then the first of another pitch comes a note after the beat, else on it.
    """
    number = next((number for number, key in enumerate(heard.keys) if key != held), 0)
    away_s = heard.starts_s[number] - beat.at_s
    return number, odds(near(away_s, spread), near(away_s - length, spread))


def _usual_length(heard: HeardTrill, count: int) -> float:
    """The length of a trill's notes: half of what usually lies between one note and the next of the same pitch.

    So it does not matter that the notes of one pitch ring longer than those of the other. A note held at the beginning
    or the end, or a pair in which another was missed, does not count.
    """
    import numpy as np

    moments = np.array([*heard.starts_s, heard.end_s])[: max(count, 1) + 1]
    pairs = moments[2:] - moments[:-2] if len(moments) > 3 else 2 * np.diff(moments)
    middle = float(np.median(pairs))
    near = np.abs(pairs - middle) < _PAIR_AWAY * middle
    return float(pairs[near].mean() if near.any() else middle) / 2
