"""The beats of a bar as a player counts them: simple, compound and mixed meters, and their subdivisions.

A compound meter (6/8, 9/8, 12/8 …) counts dotted beats of three parts, a simple one its lower number in two parts. A
mixed meter (5/8, 7/8 …) counts unequal groups of its lower number; where the player does not say which, the usual ones
(common practice, no source). Offsets are quarter notes from the start of the metrical bar, so a pickup of a quarter in
3/4 starts at 2.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from appui.errors import UsageError
from appui.exact import Fraction
from appui.score.model import Meter

__all__ = ["GROUPS", "Beat", "beats_of", "is_mixed"]

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
