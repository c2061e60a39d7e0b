"""The click: which moments of a bar it marks and how heavily.

Patterns: ``beats``, ``bar`` (the first beat only), ``subdivided`` (always), ``off``; groups such as ``3+2`` for a mixed
meter; after a comma ``silent`` lets it drop out every other bar. Below `SUBDIVIDE_BELOW` beats a minute the beats are
subdivided by themselves (a design choice: at 40 a beat is too long to be kept without them); the groups of a mixed
meter always are, since unequal beats cannot be felt without their unit. Where beats come quicker than `FASTEST` a
minute a bar has one click, at its start (a design choice: sixteen a second are heard as a noise, not as beats).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from appui.errors import UsageError
from appui.exact import Fraction
from appui.practice.beats import Beat, beats_of, is_mixed
from appui.score.model import Meter

__all__ = ["CLICK_KEYS", "CLICK_VELOCITIES", "FASTEST", "SUBDIVIDE_BELOW", "Click", "ClickPattern", "parse_click"]

SUBDIVIDE_BELOW = 50
FASTEST = 960
#  General MIDI percussion (read): high wood block on the first beat, low on the others and, soft, on subdivisions
CLICK_KEYS = (76, 77, 77)
CLICK_VELOCITIES = (100, 84, 56)
FIRST, BEAT, PART = range(3)
_KINDS = ("beats", "bar", "subdivided", "off")
_SILENT = "silent"


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
