"""The score as the rest of the tool sees it: exact, immutable, everything needed and nothing else.

Conventions
    Time is a `Fraction` of a quarter note. `onset_q` counts from the start of the *printed* score, every bar once;
    `score.repeats` gives the order in which the bars are played. Pitches are spelled, written and sounding
    (`score.pitch`). A part holds voices; a voice holds events in time order that never overlap. An event is a chord,
    a single note or (with no notes) a rest. Where a file lets one voice overlap itself, the later event goes to a
    voice of its own. Small notes are not events: they have no time of their own and hang on the event they belong to.
    Most things here are named tuples, which load and are made faster than frozen dataclasses; change one with
    `_replace`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter, itemgetter
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.pitch import Pitch, Transposition

__all__ = [
    "Bar",
    "ChordSymbol",
    "Dynamic",
    "Ending",
    "Event",
    "Figure",
    "FiguredBass",
    "Hairpin",
    "Jump",
    "Key",
    "Meter",
    "Note",
    "Notice",
    "Ornament",
    "Part",
    "Score",
    "SmallNote",
    "TempoMark",
    "tempo_in_force",
    "Voice",
    "Words",
]


class Ornament(NamedTuple):
    """One sign printed on a note: the MusicXML element's name and its attributes as printed.

    `kind` is the element's name (``trill-mark``, ``turn``, ``arpeggiate``, ``tremolo`` …); `attributes` the
    attributes as text; `text` the element's text; `above` and `below` the accidental marks, in semitones
    (``natural`` is 0), `None` where none is printed.
    """

    kind: str
    attributes: tuple[tuple[str, str], ...] = ()
    text: str = ""
    above: int | None = None
    below: int | None = None

    def get(self, name: str) -> str | None:
        """The attribute's text, or `None` where it is not printed."""
        for key, value in self.attributes:
            if key == name:
                return value
        return None


class Note(NamedTuple):
    """One full-size notehead. `tied_on`/`tied_back`: a tie leads to/comes from a note that is really there."""

    written: Pitch
    sounding: Pitch
    tied_on: bool = False
    tied_back: bool = False
    ornaments: tuple[Ornament, ...] = ()
    staff: int = 1
    hidden: bool = False
    cue: bool = False
    unpitched: bool = False
    dynamics_percent: Fraction | None = None
    attack_q: Fraction = Fraction(0)
    release_q: Fraction = Fraction(0)
    line: int = 0

    @property
    def silent(self) -> bool:
        """Cue notes are printed but not played (MusicXML 4.0 `cue`, read)."""
        return self.cue


class SmallNote(NamedTuple):
    """One small note, or a chord of them. Percentages 0..100; `value_q` is the printed value (an eighth: 1/2)."""

    written: tuple[Pitch, ...]
    sounding: tuple[Pitch, ...]
    slash: bool | None = None
    value_q: Fraction | None = None
    type_name: str | None = None
    steal_previous: Fraction | None = None
    steal_following: Fraction | None = None
    make_time_q: Fraction | None = None
    slur_start: bool = False
    slur_stop: bool = False
    tied_on: bool = False
    hidden: bool = False
    cue: bool = False
    ornaments: tuple[Ornament, ...] = ()
    articulations: frozenset[str] = frozenset()
    staff: int = 1
    line: int = 0
    ordinal: int = -1


class Event(NamedTuple):
    """A chord, a note or a rest of one voice, with the small notes before it and after it.

    `slur_on`: a slur reaches from this event to the next of its voice; `slur_back`: from the previous one to it.
    `fermata` is the shape (``normal``, ``angled`` …) or `None`; `pauses` holds ``breath-mark`` and ``caesura``.
    `marks` are the signs of the whole chord (arpeggiate …), `Note.ornaments` those of one note. `ordinal` counts the
    `note` elements of the part up to its first one, from 0; small notes have theirs (-1: not from a file).
    """

    onset_q: Fraction
    duration_q: Fraction
    bar: int
    notes: tuple[Note, ...] = ()
    type_name: str | None = None
    dots: int = 0
    tuplet: Fraction = Fraction(1)
    small_before: tuple[SmallNote, ...] = ()
    small_after: tuple[SmallNote, ...] = ()
    articulations: frozenset[str] = frozenset()
    slur_on: bool = False
    slur_back: bool = False
    fermata: str | None = None
    pauses: frozenset[str] = frozenset()
    line: int = 0
    ordinal: int = -1

    @property
    def end_q(self) -> Fraction:
        """Where the event ends on the printed time line."""
        return self.onset_q + self.duration_q

    @property
    def is_rest(self) -> bool:
        """Whether nothing sounds."""
        return not self.notes

    @property
    def top(self) -> Note:
        """The highest sounding note: the one a sign on a chord is read for."""
        return max(self.notes, key=lambda note: note.sounding.midi)


class Voice(NamedTuple):
    """The events of one voice, in time order, never overlapping."""

    name: str
    events: tuple[Event, ...]


class Key(NamedTuple):
    """A key signature *as written* in its part: `fifths` sharps (+) or flats (-); `mode` as printed or empty.

    `altered` lists letters and alterations of a non-traditional signature and is empty otherwise.
    """

    onset_q: Fraction
    fifths: int
    mode: str = ""
    altered: tuple[tuple[str, int], ...] = ()

    def alter(self, step: str) -> int:
        """What the signature does to a letter, in semitones."""
        for letter, semitones in self.altered:
            if letter == step:
                return semitones
        if self.altered:
            return 0
        place = "FCGDAEB".index(step)
        # the nth sharp is the nth of F C G D A E B, flats come from the other end; beyond seven they double
        if self.fifths >= 0:
            return (self.fifths - place + 6) // 7
        return -((-self.fifths - (6 - place) + 6) // 7)


class Meter(NamedTuple):
    """A time signature: beats of 3+2/8 are summed in `beats`; `symbol` is ``common``, ``cut`` or empty.

    `beat_q` is the beat a player counts: a dotted value in compound meters (6/8, 9/8, 12/8 ...).
    """

    beats: int
    beat_type: int
    symbol: str = ""

    @property
    def bar_q(self) -> Fraction:
        """Length of a full bar."""
        return Fraction(4 * self.beats, self.beat_type)

    @property
    def compound(self) -> bool:
        """Whether beats divide in three."""
        return self.beats > 3 and self.beats % 3 == 0 and self.beat_type >= 8

    @property
    def beat_q(self) -> Fraction:
        """Length of the counted beat."""
        return Fraction(12 if self.compound else 4, self.beat_type)


class Ending(NamedTuple):
    """A volta bracket over this bar: the passes it is for."""

    passes: tuple[int, ...]


class Jump(NamedTuple):
    """A sign of the road map, at the start or the end of its bar.

    `kind`: ``segno``, ``coda`` (targets), ``dacapo``, ``dalsegno``, ``tocoda``, ``fine`` (leaps).
    `name` pairs a leap with its target; `passes` as in MusicXML `time-only`.
    """

    kind: str
    name: str = ""
    passes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar, the same for all parts. `number` as printed, `length_q` as played (short for a pickup).

    `final`: a final barline ends it, one that repeats nothing. `heading` is what stands over the beginning of a
    movement, empty where nothing does; `None` for a bar that begins none (`score.movements`).
    """

    index: int
    number: str
    onset_q: Fraction
    length_q: Fraction
    meter: Meter
    implicit: bool = False
    repeat_forward: bool = False
    repeat_backward: int = 0
    endings: tuple[Ending, ...] = ()
    jumps: tuple[Jump, ...] = ()
    fermata_at_end: bool = False
    final: bool = False
    heading: str | None = None

    @property
    def pickup(self) -> bool:
        """Whether the bar is shorter than its meter and starts a piece or is not counted."""
        return self.length_q < self.meter.bar_q and (self.implicit or self.index == 0)

    @property
    def lead_q(self) -> Fraction:
        """How far into the metrical bar its first note falls: a pickup quarter in 3/4 starts at 2."""
        return self.meter.bar_q - self.length_q if self.pickup else Fraction(0)


class Dynamic(NamedTuple):
    """A dynamic mark: `mark` as printed (``mf``, ``sfz`` …), `percent` of the default forte where the file says."""

    onset_q: Fraction
    mark: str
    percent: Fraction | None = None
    staff: int | None = None


class Hairpin(NamedTuple):
    """A hairpin: `kind` is ``crescendo`` or ``diminuendo``."""

    onset_q: Fraction
    end_q: Fraction
    kind: str
    staff: int | None = None


class Words(NamedTuple):
    """Words printed over or under a part, such as ``cresc.`` or ``a tempo``."""

    onset_q: Fraction
    text: str


class TempoMark(NamedTuple):
    """A tempo, in quarter notes a minute. `origin`: ``sound``, ``metronome``, ``words`` or ``assumed``."""

    onset_q: Fraction
    qpm: Fraction
    origin: str
    words: str = ""


def tempo_in_force(tempos: Sequence[TempoMark], onset_q: Fraction) -> TempoMark:
    """The last of some tempos, in order, that begins by a moment; the first before them all."""
    return tempos[max(bisect_right(tempos, onset_q, key=attrgetter("onset_q")) - 1, 0)]


class ChordSymbol(NamedTuple):
    """A printed chord symbol: root and bass as letters (``Bb``), `kind` the MusicXML kind, `degrees` as printed."""

    onset_q: Fraction
    root: str
    kind: str
    bass: str = ""
    degrees: tuple[tuple[int, int, str], ...] = ()
    text: str = ""


class Figure(NamedTuple):
    """One figure: `number` as printed (may be empty for a lone accidental), `prefix`/`suffix` accidental names."""

    number: str
    prefix: str = ""
    suffix: str = ""
    extend: str = ""


class FiguredBass(NamedTuple):
    """Figures under one bass note, top figure first; `duration_q` is how long they hold (0: until the next)."""

    onset_q: Fraction
    duration_q: Fraction
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """One part. `program` is the MIDI program (0..127) the file asks for, or `None`.

    `staves` how many it is written on.
    """

    index: int
    id: str
    name: str
    voices: tuple[Voice, ...]
    keys: tuple[Key, ...] = ()
    transpositions: tuple[tuple[Fraction, Transposition], ...] = ()
    dynamics: tuple[Dynamic, ...] = ()
    hairpins: tuple[Hairpin, ...] = ()
    chord_symbols: tuple[ChordSymbol, ...] = ()
    figures: tuple[FiguredBass, ...] = ()
    staves: int = 1
    instrument: str = ""
    program: int | None = None
    channel: int | None = None
    percussion: bool = False
    volume_percent: Fraction | None = None
    bar_numbers: tuple[str, ...] = ()
    words: tuple[Words, ...] = ()

    def key_at(self, onset_q: Fraction) -> Key:
        """The written key in force; C major where none is printed."""
        index = bisect_right(self.keys, onset_q, key=attrgetter("onset_q"))
        return self.keys[index - 1] if index else Key(Fraction(0), 0)

    def transposition_at(self, onset_q: Fraction) -> Transposition:
        """The transposition in force."""
        index = bisect_right(self.transpositions, onset_q, key=itemgetter(0))
        return self.transpositions[index - 1][1] if index else Transposition()


class Notice(NamedTuple):
    """Something odd in the file, read on past, said once: `place` (part, bar, line) and `text`."""

    place: str
    text: str


@dataclass(frozen=True, slots=True)
class Score:
    """A whole score. `sha256` is of the text it is written in, so that a plan knows its score again.

    `creators` are kind and text: ``composer`` …; ``date``, ``title`` and ``credit`` tell when and by whom, too.
    """

    title: str
    file: str
    sha256: str
    parts: tuple[Part, ...]
    bars: tuple[Bar, ...]
    tempos: tuple[TempoMark, ...]
    notices: tuple[Notice, ...] = ()
    creators: tuple[tuple[str, str], ...] = ()

    @property
    def length_q(self) -> Fraction:
        """Length of the printed score, every bar once."""
        return self.bars[-1].onset_q + self.bars[-1].length_q if self.bars else Fraction(0)

    def tempo_at(self, onset_q: Fraction) -> TempoMark:
        """The tempo in force at a moment of the printed time line."""
        return tempo_in_force(self.tempos, onset_q)

    def last_onset_q(self, end_q: Fraction) -> Fraction:
        """The onset of the last thing that begins before a moment, in any voice."""
        found = Fraction(0)
        for part in self.parts:
            for voice in part.voices:
                index = bisect_left(voice.events, end_q, key=attrgetter("onset_q"))
                if index:
                    found = max(found, voice.events[index - 1].onset_q)
        return found

    def bar_at(self, onset_q: Fraction) -> Bar:
        """The bar that holds a moment of the printed time line."""
        low, high = 0, len(self.bars)
        while high - low > 1:
            middle = (low + high) // 2
            if self.bars[middle].onset_q <= onset_q:
                low = middle
            else:
                high = middle
        return self.bars[low]
