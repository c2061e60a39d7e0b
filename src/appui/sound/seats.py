"""Which MIDI port and channel a part plays on.

A port has sixteen channels, the tenth for percussion, so fifteen for other parts, taken in order. A part beyond them
shares the channel of one with the same program, volume and pan where no key of theirs ever meets, so that a player
that knows one port only still plays it right and no note-off ends another part's note. Never the solo's: its channel
can be muted alone. Where nobody fits, a second port gives fifteen more (meta FF 21, common practice, no source).
Percussion parts are seated alike on the tenth channel of each port.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from appui.perform.model import PerformedPart
from appui.sound.strokes import Stroke, clash

__all__ = ["PERCUSSION", "Seat", "seats"]

PERCUSSION = 9
MELODIC = tuple(channel for channel in range(16) if channel != PERCUSSION)


class Seat(NamedTuple):
    """A MIDI port and a channel 0..15 on it."""

    port: int
    channel: int


@dataclass
class _Row:
    """Seats of one kind, port after port, each with its occupants."""

    channels: Sequence[int]
    taken: list[tuple[Seat, list[int]]] = field(default_factory=list)

    def next_free(self) -> Seat:
        port, place = divmod(len(self.taken), len(self.channels))
        return Seat(port, self.channels[place])


def seats(parts: Sequence[PerformedPart], strokes: Sequence[Sequence[Stroke]]) -> list[Seat]:
    """A seat for each part; `strokes` are the parts' single strokes, in ticks."""
    rows = {False: _Row(MELODIC), True: _Row((PERCUSSION,))}
    found: dict[int, Seat] = {}
    for index in sorted(range(len(parts)), key=lambda i: not parts[i].solo):
        row = rows[parts[index].percussion]
        seat = row.next_free()
        mates = _mates(index, row, parts, strokes) if seat.port else None
        if mates is None:
            row.taken.append((seat, [index]))
        else:
            seat, occupants = mates
            occupants.append(index)
        found[index] = seat
    return [found[index] for index in range(len(parts))]


def _mates(
    index: int, row: _Row, parts: Sequence[PerformedPart], strokes: Sequence[Sequence[Stroke]]
) -> tuple[Seat, list[int]] | None:
    for seat, occupants in row.taken:
        if all(_alike(parts[index], parts[other]) and not clash(strokes[index], strokes[other]) for other in occupants):
            return seat, occupants
    return None


def _alike(one: PerformedPart, other: PerformedPart) -> bool:
    if one.solo or other.solo or one.controls or other.controls:
        return False
    return (one.program, one.volume, one.pan) == (other.program, other.volume, other.pan)
