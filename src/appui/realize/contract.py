"""What every family of signs takes and gives: one contract, written once.

A realizer gets a `Stand` (where the sign stands: the room it may use, the pitches, the local tempo) and gives a
`Cut`: tones at the head, tones at the tail, the room left for the main note, and, for trills and their kin, a body
that takes the main note's place. Realizers never look beyond their room, so nothing they do can move the next note.

Times are exact quarter notes on the performed time line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from appui.score.model import Event, Note
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = [
    "SOFTER_DB",
    "Before",
    "BeforeRealizer",
    "Cut",
    "Realizer",
    "Stand",
    "Tone",
    "fill",
    "off_beat_ms",
    "q_of_ms",
    "split",
]


class Tone(NamedTuple):
    """One sounding note, before seconds and levels.

    `role`: ``plain``, ``main`` (of a sign that leaves it plain), ``lean``, ``release``, ``passing``, ``short``,
    ``after``, ``trill``, ``termination``. `printed_q` is its main note's onset on the printed time line, where levels
    and tempo are looked up; `event` the event it comes from; `level_db` what its role adds to the surrounding level.
    """

    onset_q: Fraction
    duration_q: Fraction
    pitch: Pitch
    role: str
    printed_q: Fraction
    event: Event
    note: Note | None = None
    sign: str | None = None
    level_db: Fraction = Fraction(0)
    tied_on: bool = False
    tied_back: bool = False

    @property
    def end_q(self) -> Fraction:
        """Where it stops."""
        return self.onset_q + self.duration_q


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a sign stands.

    `start_q` and `end_q` bound the room of the main note as earlier signs on it have left it; `whole_q` is the note's
    full printed length; `spill_q` is how much rest follows, for a release that goes into the rest. `auxiliary(+1)`
    and `auxiliary(-1)` are the sounding neighbours of the main note. `qpm` is the tempo sizes in milliseconds are
    counted at.
    """

    sign: Sign
    reading: Reading
    event: Event
    note: Note
    start_q: Fraction
    end_q: Fraction
    whole_q: Fraction
    qpm: Fraction
    weight_db: Fraction
    auxiliary: Callable[[int], Pitch]
    spill_q: Fraction = Fraction(0)

    @property
    def room_q(self) -> Fraction:
        """The room there is."""
        return self.end_q - self.start_q

    def tone(
        self, onset_q: Fraction, duration_q: Fraction, pitch: Pitch, role: str, level_db: Fraction = Fraction(0)
    ) -> Tone:
        """A tone of this sign."""
        return Tone(onset_q, duration_q, pitch, role, self.event.onset_q, self.event, None, self.sign.place, level_db)


class Cut(NamedTuple):
    """What a sign makes of its room: see the module's head. `main_role` is what the main note becomes."""

    start_q: Fraction
    end_q: Fraction
    head: tuple[Tone, ...] = ()
    tail: tuple[Tone, ...] = ()
    body: tuple[Tone, ...] | None = None
    main_role: str = "plain"
    notice: str = ""


class Before(NamedTuple):
    """Tones before the beat: the length they ask for, and how to fill what they are given."""

    wanted_q: Fraction
    fill: Callable[[Fraction, Fraction], tuple[Tone, ...]]


Realizer = Callable[[Stand], Cut]
BeforeRealizer = Callable[[Stand], Before]


def q_of_ms(ms: Fraction | int, qpm: Fraction) -> Fraction:
    """Milliseconds as quarter notes at a tempo, exactly.

    >>> q_of_ms(500, Fraction(60))
    Fraction(1, 2)
    """
    return Fraction(ms) * qpm / 60_000


#  small notes off the beat: medians of performances, ms by how many there are ((n)ASAP, computed); each further one 60
_OFF_BEAT_MS = {1: 95, 2: 180, 3: 200}
#  and softer than the level around: a design choice, since measured velocities before the beat are lower
SOFTER_DB = Fraction(-2)


def off_beat_ms(count: int) -> Fraction:
    """How long `count` small notes off the beat last together, ms, where the reading leaves it open."""
    return Fraction(_OFF_BEAT_MS.get(count, 200 + 60 * (count - 3)))


def split(length_q: Fraction, weights: list[Fraction]) -> list[Fraction]:
    """Parts of a length in proportion to weights; they add up to it exactly."""
    total = sum(weights, Fraction(0))
    return [length_q * weight / total for weight in weights]


def fill(
    stand: Stand, start_q: Fraction, length_q: Fraction, role: str, levels_db: tuple[Fraction, ...] = ()
) -> tuple[Tone, ...]:
    """The sign's small notes one after another over a length, by their printed values; chords sound together."""
    small = stand.sign.small
    values = [note.value_q or Fraction(1, 4) for note in small]
    tones: list[Tone] = []
    at_q = start_q
    for index, (note, part_q) in enumerate(zip(small, split(length_q, values), strict=True)):
        level = levels_db[min(index, len(levels_db) - 1)] if levels_db else Fraction(0)
        tones += [stand.tone(at_q, part_q, pitch, role, level) for pitch in note.sounding]
        at_q += part_q
    return tuple(tones)
