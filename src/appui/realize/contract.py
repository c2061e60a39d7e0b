"""What every family of signs takes and gives: one contract, written once.

A realizer gets a `Stand` (where the sign stands: the room it may use, the pitches, the local tempo) and gives a
`Cut`: tones at the head, tones at the tail, the room left for the main note, and, for trills and their kin, a body
that takes the main note's place. Realizers never look beyond their room, so nothing they do can move the next note.

Times are exact quarter notes on the performed time line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Event, Note
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.words import Profile, Role
from appui.style.reading import Reading

__all__ = ["Before", "BeforeRealizer", "Cut", "Realizer", "Stand", "Tone"]


class Tone(NamedTuple):
    """One sounding note, before seconds and levels.

    `role`: ``plain``, ``main`` (of a sign that leaves it plain), ``lean``, ``release``, ``before``, ``short``,
    ``after``, ``trill``, ``termination``, ``turn``, ``mordent``, ``slide``, ``tremolo``, ``free`` (the player's own).
    `printed_q` is its main note's onset on the printed time line, where levels and tempo are looked up; `event` the
    event it comes from; `level_db` what its role adds to the surrounding level; `swell_db` how far it swells: soft,
    loud, soft; `leads_on` whether quick notes of the same sign follow it without a new stroke.
    """

    onset_q: Fraction
    duration_q: Fraction
    pitch: Pitch
    role: Role
    printed_q: Fraction
    event: Event
    note: Note | None = None
    sign: str | None = None
    level_db: Fraction = Fraction(0)
    tied_on: bool = False
    tied_back: bool = False
    swell_db: Fraction = Fraction(0)
    leads_on: bool = False

    @property
    def end_q(self) -> Fraction:
        """Where it stops."""
        return self.onset_q + self.duration_q


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a sign stands.

    `start_q` and `end_q` bound the room of the main note as earlier signs on it have left it; `whole_q` is the note's
    full printed length; `spill_q` is how much rest follows, for a release that goes into the rest. `auxiliary` gives
    the sounding note so many letter steps from the main note. `qpm` is the tempo sizes in milliseconds are counted at,
    `floor_q` the shortest note the instrument speaks clearly (0: no such limit). `rank` counts the notes of a chord
    that is broken, lowest first, of `broken` altogether; `partner` are the notes a tremolo takes turns with,
    `second` whether this event is the second of the two. `within` holds what is played in place
    of a small note, with the place of the sign that asks for it; `spelled` the hidden events of the edition's own
    realization.
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
    floor_q: Fraction = Fraction(0)
    rank: int = 0
    broken: int = 1
    partner: tuple[Pitch, ...] = ()
    second: bool = False
    profile: Profile = "loud-soft"
    within: Mapping[int, tuple[str, tuple[Pitch, ...]]] = field(default_factory=dict)
    spelled: tuple[Event, ...] = ()

    @property
    def room_q(self) -> Fraction:
        """The room there is."""
        return self.end_q - self.start_q

    def tone(
        self, onset_q: Fraction, duration_q: Fraction, pitch: Pitch, role: Role, level_db: Fraction = Fraction(0)
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
    main_role: Role = "plain"
    notice: str = ""


class Before(NamedTuple):
    """Tones before the beat: the length they ask for, and how to fill what they are given."""

    wanted_q: Fraction
    fill: Callable[[Fraction, Fraction], tuple[Tone, ...]]


Realizer = Callable[[Stand], Cut]
BeforeRealizer = Callable[[Stand], Before]
