"""The click: how the beats of a bar are counted, which of its moments are marked and how heavily.

A compound meter (6/8, 9/8, 12/8 …) counts dotted beats of three parts, a simple one its lower number in two parts. A
mixed meter (5/8, 7/8 …) counts unequal groups of its lower number; where the player does not say which, the usual ones
(common practice, no source). Offsets are quarter notes from the start of the metrical bar, so a pickup of a quarter in
3/4 starts at 2.

Patterns: ``beats``, ``bar`` (the first beat only), ``subdivided`` (always), ``off``; groups such as ``3+2`` for a mixed
meter; after a comma ``silent`` lets it drop out every other bar. Below `SUBDIVIDE_BELOW` beats a minute the beats are
subdivided by themselves (a design choice: at 40 a beat is too long to be kept without them); the groups of a mixed
meter always are, since unequal beats cannot be felt without their unit. Where beats come quicker than `FASTEST` a
minute a bar has one click, at its start (a design choice: sixteen a second are heard as a noise, not as beats).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from appui.errors import UsageError
from appui.exact import Fraction
from appui.score.model import Meter

__all__ = [
    "Beat",
    "CLICK_KEYS",
    "CLICK_VELOCITIES",
    "Click",
    "ClickPattern",
    "FASTEST",
    "GROUPS",
    "SUBDIVIDE_BELOW",
    "beats_of",
    "is_mixed",
    "parse_click",
]

SUBDIVIDE_BELOW = 50
FASTEST = 960
#  General MIDI percussion (read): high wood block on the first beat, low on the others and, soft, on subdivisions
CLICK_KEYS = (76, 77, 77)
CLICK_VELOCITIES = (100, 84, 56)
FIRST, BEAT, PART = range(3)
_KINDS = ("beats", "bar", "subdivided", "off")
_SILENT = "silent"


#  units of the bar: how they are grouped where nothing is said
GROUPS = {5: (3, 2), 7: (2, 2, 3), 10: (3, 3, 2, 2), 11: (3, 3, 3, 2)}


class Beat(NamedTuple):
    """One counted beat: where in the bar it starts, how long it is, in how many parts it divides."""

    offset_q: Fraction
    length_q: Fraction
    parts: int


def is_mixed(meter: Meter, groups: Sequence[int] = ()) -> bool:
    """Whether the bar is counted in unequal groups."""
    return bool(groups) or (meter.beat_type >= 8 and meter.beats in GROUPS)


def beats_of(meter: Meter, groups: Sequence[int] = ()) -> tuple[Beat, ...]:
    """The beats of a full bar. `groups` are counted in the meter's lower number: 2+2+3 for 7/8.

    Raises `UsageError` for groups that do not fill the bar.
    """
    if is_mixed(meter, groups):
        wanted = groups or GROUPS[meter.beats]
        if sum(wanted) != meter.beats:
            written = "+".join(map(str, wanted))
            raise UsageError(
                f"the click's groups {written} make {sum(wanted)}, the meter is {meter.beats}/{meter.beat_type}; "
                f"name groups that make {meter.beats}"
            )
        return _grouped(wanted, Fraction(4, meter.beat_type))
    count = max(1, int(meter.bar_q / meter.beat_q))
    return tuple(Beat(n * meter.beat_q, meter.beat_q, 3 if meter.compound else 2) for n in range(count))


def _grouped(groups: Sequence[int], unit_q: Fraction) -> tuple[Beat, ...]:
    beats: list[Beat] = []
    at_q = Fraction(0)
    for size in groups:
        beats.append(Beat(at_q, size * unit_q, size))
        at_q += size * unit_q
    return tuple(beats)


class Click(NamedTuple):
    """One click: its place in the metrical bar, in quarters, and its rank: 0 first beat, 1 beat, 2 subdivision."""

    offset_q: Fraction
    rank: int


@dataclass(frozen=True, slots=True)
class ClickPattern:
    """What was asked of the click."""

    kind: str = "beats"
    groups: tuple[int, ...] = ()
    silent_bars: bool = False

    @property
    def sounds(self) -> bool:
        """Whether there is any click."""
        return self.kind != "off"

    def fits(self, meter: Meter) -> bool:
        """Whether the groups asked for fill a bar of this meter; others are counted as usual."""
        return sum(self.groups) == meter.beats

    def bar(self, meter: Meter, qpm: Fraction, length_q: Fraction | None = None) -> Iterator[Click]:
        """The clicks of a bar at `qpm` quarter notes a minute; `length_q` where it is longer than its meter."""
        groups = self.groups if self.fits(meter) else ()
        beats = beats_of(meter, groups)
        end_q = meter.bar_q if length_q is None else max(length_q, meter.bar_q)
        if not self.sounds:
            return
        if self.kind == "bar" or qpm > FASTEST * max(beat.length_q for beat in beats):
            yield Click(Fraction(0), FIRST)
            return
        parted = self.kind == "subdivided" or is_mixed(meter, groups)
        start_q = Fraction(0)
        while start_q < end_q:
            for beat in beats:
                yield from _clicks(beat, start_q, qpm, parted=parted)
            start_q += meter.bar_q


def _clicks(beat: Beat, start_q: Fraction, qpm: Fraction, *, parted: bool) -> Iterator[Click]:
    at_q = start_q + beat.offset_q
    yield Click(at_q, BEAT if at_q else FIRST)
    if parted or qpm / beat.length_q < SUBDIVIDE_BELOW:
        for part in range(1, beat.parts):
            yield Click(at_q + beat.length_q * part / beat.parts, PART)


def parse_click(text: str) -> ClickPattern:
    """Read ``beats``, ``3+2+2,silent`` …; raises `UsageError`.

    >>> parse_click("2+3,silent")
    ClickPattern(kind='beats', groups=(2, 3), silent_bars=True)
    """
    words = [word.strip() for word in text.split(",")]
    kind, silent = "beats", False
    groups: tuple[int, ...] = ()
    for word in words:
        if word in _KINDS:
            kind = word
        elif word == _SILENT:
            silent = True
        elif re.fullmatch(r"[1-9](\+[1-9])+", word):
            groups = tuple(map(int, word.split("+")))
        else:
            raise UsageError(
                f"click {text!r}: {word!r} is none of {', '.join(_KINDS)}, {_SILENT}, nor groups such as 3+2"
            )
    return ClickPattern(kind, groups, silent)
