"""Notes as strokes of one key on one channel, where a key sounds only once at a time.

Two voices of a part can hold the same key. A channel cannot: a second note-on restrikes the key and the first
note-off ends both. So, as on a keyboard: a later stroke ends the earlier note and strikes again, the key sounds until
the last voice holding it lets go, and two strokes at one moment are one, the louder.

Moments are whole numbers: ticks in a MIDI file, frames in audio.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

__all__ = ["Stroke", "clash", "single_strokes"]


class Stroke(NamedTuple):
    """A key struck at `start` and let go at `stop` (ticks or frames), velocity 1..127."""

    key: int
    start: int
    stop: int
    velocity: int


def single_strokes(strokes: Iterable[Stroke]) -> Iterator[Stroke]:
    """The same strokes such that each key sounds once at a time; by key, then in time.

    >>> [tuple(s) for s in single_strokes([Stroke(60, 0, 40, 80), Stroke(60, 10, 20, 70)])]
    [(60, 0, 10, 80), (60, 10, 40, 70)]
    """
    held: Stroke | None = None
    for stroke in sorted(strokes):
        if held is None or stroke.key != held.key or stroke.start >= held.stop:
            if held is not None:
                yield held
            held = stroke
        elif stroke.start == held.start:
            held = Stroke(held.key, held.start, max(held.stop, stroke.stop), max(held.velocity, stroke.velocity))
        else:
            yield Stroke(held.key, held.start, stroke.start, held.velocity)
            held = Stroke(stroke.key, stroke.start, max(held.stop, stroke.stop), stroke.velocity)
    if held is not None:
        yield held


def clash(one: Iterable[Stroke], other: Iterable[Stroke]) -> bool:
    """Whether a key of one voice is still held, or just let go, when the other strikes it.

    Each voice has single strokes. Touching counts: the order of two tracks at one tick is the player's to choose.
    """
    both = sorted([(*stroke, False) for stroke in one] + [(*stroke, True) for stroke in other])
    return any(a[0] == b[0] and a[4] != b[4] and b[1] <= a[2] for a, b in pairwise(both))
