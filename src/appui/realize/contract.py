"""What every family of signs takes and gives: one contract, written once.

A realizer gets a `Stand` (where the sign stands: the room it may use, the pitches, the local tempo) and gives a
`Cut`: tones at the head, tones at the tail, the room left for the main note, and, for trills and their kin, a body
that takes the main note's place. Realizers never look beyond their room, so nothing they do can move the next note.

Times are exact quarter notes on the performed time line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Event, Note
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.words import Profile, Role
from appui.style.reading import Reading

__all__ = [
    "MOST_NOTES",
    "RATE",
    "SLOWEST_QUICK_MS",
    "SOFTER_DB",
    "Before",
    "BeforeRealizer",
    "Cut",
    "Realizer",
    "Stand",
    "Tone",
    "by_landings",
    "fill",
    "head",
    "landings",
    "off_beat_ms",
    "q_of_ms",
    "quick_q",
    "sequence",
    "split",
]


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


#  the most notes of one sign that goes on by itself, a minute and more: a longer one is slower (a design choice)
MOST_NOTES = 1_000


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
    stand: Stand, start_q: Fraction, length_q: Fraction, role: Role, levels_db: tuple[Fraction, ...] = ()
) -> tuple[Tone, ...]:
    """The sign's small notes one after another over a length, by their printed values; chords sound together.

    A small note with a sign of its own is played as that sign has it, where there is time for it.
    """
    small = stand.sign.small
    values = [note.value_q or Fraction(1, 4) for note in small]
    tones: list[Tone] = []
    at_q = start_q
    for index, (note, part_q) in enumerate(zip(small, split(length_q, values), strict=True)):
        level = levels_db[min(index, len(levels_db) - 1)] if levels_db else Fraction(0)
        place, inside = stand.within.get(index, ("", ()))
        if len(inside) > 1 and len(note.sounding) == 1 and part_q / len(inside) >= stand.floor_q:
            quick = sequence(stand, at_q, [(pitch, part_q / len(inside)) for pitch in inside], role, level)
            tones += [tone._replace(sign=place) for tone in quick]
        else:
            tones += [stand.tone(at_q, part_q, pitch, role, level) for pitch in note.sounding]
        at_q += part_q
    return tuple(tones)


def sequence(
    stand: Stand,
    start_q: Fraction,
    notes: Sequence[tuple[Pitch, Fraction]],
    role: Role,
    level_db: Fraction = Fraction(0),
) -> tuple[Tone, ...]:
    """Notes, each a pitch and a length, one after another from a moment on."""
    tones: list[Tone] = []
    for pitch, length_q in notes:
        tones.append(stand.tone(start_q, length_q, pitch, role, level_db))
        start_q += length_q
    return tuple(tones)


#  notes a second of quick figures where the reading leaves it open (medians of performances, computed)
RATE = Fraction(13)
#  however long its note, a quick figure stays one: shares out of tables drawn for quarter notes are held to so many ms
#  a note (García, read in an excerpt: a turn lasts a sixteenth at 100, whatever its note; 125 ms are a design choice)
SLOWEST_QUICK_MS = 125


def quick_q(stand: Stand, count: int, most: Fraction = Fraction(1, 2)) -> Fraction:
    """Length of each of `count` quick notes: by the reading's share or speed, together at most `most` of the room."""
    share = stand.reading.number("share")
    if share is not None:
        return min(min(stand.whole_q * share, stand.room_q) / count, q_of_ms(SLOWEST_QUICK_MS, stand.qpm))
    each_q = stand.qpm / 60 / stand.reading.fraction("rate", RATE)
    return min(each_q, stand.room_q * most / count)


def head(stand: Stand, steps: Sequence[int], role: Role, pitch: Callable[[int], Pitch]) -> Cut:
    """Quick notes on letter steps, then the main note for what is left.

    Where each would be shorter than the instrument speaks, the figure is spread over the whole note; where that is too
    short as well, notes are left off the front until the rest can be heard.
    """
    asked = "share" in dict(stand.reading.sizes) or "rate" in dict(stand.reading.sizes)
    floor_q = Fraction(0) if asked else stand.floor_q
    kept = list(steps)
    while kept and max(quick_q(stand, len(kept)), _pressed_q(stand, len(kept))) < floor_q:
        kept.pop(0)
    notice = "" if len(kept) == len(steps) else _TOO_SHORT.format(len(kept), len(steps))
    if not kept:
        return Cut(stand.start_q, stand.end_q, main_role="main", notice=notice)
    each_q = max(quick_q(stand, len(kept)), min(floor_q, _pressed_q(stand, len(kept))))
    if each_q * len(kept) >= stand.room_q:
        each_q = _pressed_q(stand, len(kept))
    tones = sequence(stand, stand.start_q, [(pitch(step), each_q) for step in kept], role)
    return Cut(stand.start_q + each_q * len(kept), stand.end_q, tones, main_role="main", notice=notice)


def _pressed_q(stand: Stand, count: int) -> Fraction:
    """Length of each of `count` notes where they and the main note share the room evenly."""
    return stand.room_q / (count + 1)


_TOO_SHORT = "the note is too short to speak so quickly: {} of {} quick notes are played"


def landings(stand: Stand, beats: int, second: Fraction, last: Fraction) -> list[Fraction]:
    """Where each of so many notes lands, as shares of the note.

    MusicXML 4.0, trill-sound (read): the second and the last land on their percentages; evenly between.
    """
    second = stand.reading.fraction("second", second) / 100
    last = stand.reading.fraction("last", last) / 100
    if beats == 2 or not second < last:
        return [Fraction(i, beats) for i in range(beats)] if beats > 2 or not 0 < second < 1 else [Fraction(0), second]
    if second <= 0 or last >= 1:
        return [Fraction(i, beats) for i in range(beats)]
    return [Fraction(0), *(second + (last - second) * Fraction(i, beats - 2) for i in range(beats - 1))]


def by_landings(stand: Stand, pitches: Sequence[Pitch], onsets: Sequence[Fraction], role: Role) -> tuple[Tone, ...]:
    """A body of notes that land on these shares of the room."""
    ends = [*onsets[1:], Fraction(1)]
    return tuple(
        stand.tone(stand.start_q + stand.room_q * onset, stand.room_q * (end - onset), pitch, role)
        for pitch, onset, end in zip(pitches, onsets, ends, strict=True)
    )
