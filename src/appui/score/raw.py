"""What one part holds while it is being read: positions inside bars, before bars have a length and voices an order."""

from __future__ import annotations

from dataclasses import dataclass, field

from appui.exact import Fraction
from appui.score.figured_bass import Text
from appui.score.model import (
    ChordSymbol,
    Ending,
    FiguredBass,
    Jump,
    Meter,
    Note,
    Notice,
    SmallNote,
)
from appui.score.pitch import Transposition

__all__ = ["RawBar", "RawEvent", "RawPart", "RawTempo"]


@dataclass(slots=True)
class RawEvent:
    """A chord or rest: `at_q` to `stop_q` from the start of its bar; the rest as in `Event`.

    `ties` has one (start, stop) a note, `tied` says whether any is one. `onset_q` and `end_q` are known when bars are.
    """

    bar: int
    at_q: Fraction
    duration_q: Fraction
    stop_q: Fraction
    voice: str
    staff: int
    line: int
    ordinal: int
    type_name: str | None
    dots: int
    tuplet: Fraction
    articulations: frozenset[str]
    pauses: frozenset[str]
    fermata: str | None
    slur_starts: tuple[str, ...]
    slur_stops: tuple[str, ...]
    notes: tuple[Note, ...] = ()
    ties: tuple[tuple[bool, bool], ...] = ()
    tied: bool = False
    before: tuple[SmallNote, ...] = ()
    after: tuple[SmallNote, ...] = ()
    onset_q: Fraction = Fraction(0)
    end_q: Fraction = Fraction(0)
    slur_on: bool = False
    slur_back: bool = False


@dataclass(slots=True)
class RawTempo:
    """A tempo as found: `rank` 0 for `sound`, 1 for a metronome mark, 2 for words alone."""

    bar: int
    at_q: Fraction
    qpm: Fraction | None
    rank: int
    words: str = ""


@dataclass(slots=True)
class RawBar:
    """One bar of one part: how far its notes reach (`content_q`), and its road signs."""

    number: str
    implicit: bool
    content_q: Fraction = Fraction(0)
    meter: Meter | None = None
    repeat_forward: bool = False
    repeat_backward: int = 0
    ending_starts: list[Ending] = field(default_factory=list)
    ending_stops: bool = False
    jumps: list[Jump] = field(default_factory=list)
    fermata_at_end: bool = False
    final: bool = False
    has_notes: bool = False


@dataclass(slots=True)
class RawPart:
    """One part as read, everything placed by bar and position in the bar."""

    id: str
    name: str
    instrument: str = ""
    program: int | None = None
    channel: int | None = None
    volume_percent: Fraction | None = None
    percussion: bool = False
    staves: int = 1
    bars: list[RawBar] = field(default_factory=list)
    events: list[RawEvent] = field(default_factory=list)
    keys: list[tuple[int, Fraction, int, str, tuple[tuple[str, int], ...]]] = field(default_factory=list)
    transpositions: list[tuple[int, Fraction, Transposition]] = field(default_factory=list)
    dynamics: list[tuple[int, Fraction, str, Fraction | None, int | None]] = field(default_factory=list)
    hairpins: list[tuple[int, Fraction, int, Fraction, str, int | None]] = field(default_factory=list)
    chord_symbols: list[tuple[int, Fraction, ChordSymbol]] = field(default_factory=list)
    figures: list[tuple[int, Fraction, FiguredBass]] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    tempos: list[RawTempo] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    _said: set[str] = field(default_factory=set)

    def notice(self, place: str, text: str) -> None:
        """Say something odd once a part."""
        if text not in self._said:
            self._said.add(text)
            self.notices.append(Notice(place, text))
