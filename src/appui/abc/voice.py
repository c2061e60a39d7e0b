"""One voice of an ABC tune while it is read: what is in force, the bar that is being typed, and what becomes of it.

A bar is kept as it is typed until its barline: the sign ``>`` and a tie change the note before them. Then its notes go
to the part, each where the lengths before it end.
"""

from __future__ import annotations

from appui.abc.fields import Clef, Signature
from appui.abc.items import Item, Mark, Pending, Small, Struck
from appui.exact import Fraction
from appui.musicxml.read.note import NOTE_VALUES
from appui.score.figured_bass import Text
from appui.score.gather import Gatherer
from appui.score.model import Ending, Jump, Meter, Note, SmallNote
from appui.score.pitch import Pitch
from appui.score.raw import RawEvent, RawPart

__all__ = ["Voice", "named_value"]

_BY_LENGTH = {length_q: name for name, length_q in NOTE_VALUES.items()}


class Voice:
    """See the module's head."""

    def __init__(self, name: str, unit_q: Fraction, meter: Meter | None, signature: Signature) -> None:
        self.part = RawPart("", name)
        self.gatherer = Gatherer(self.part)
        self.unit_q, self.meter, self.signature = unit_q, meter, signature
        self.clef = self.first_clef = Clef()
        self.pending = Pending()
        self.items: list[Item] = []
        #  how long what is typed in the bar is, all layers together
        self.length_q = Fraction(0)
        self.layers: list[list[Item]] = []
        self.accidentals: dict[tuple[str, int], int | Fraction] = {}
        #  pitches that the last note ties on, by letter and octave
        self.tied: dict[tuple[str, int], int | Fraction] = {}
        self.tuplet: tuple[Fraction, int] | None = None
        self.broken = Fraction(1)
        self.by_octave = False
        self.open_slurs: list[Small | Struck] = []
        self.slurs: list[tuple[Small | Struck, Small | Struck]] = []
        self.hairpin: tuple[int, Fraction, str] | None = None
        self.forward = False
        self.ending = False
        self.passes: tuple[int, ...] = ()
        #  notes of the line of music above, for lyrics, and which line that is; `None` stands for a barline
        self.line_notes: list[Struck | None] = []
        self.line = 0
        self.sung: list[Struck] = []
        #  of each bar: the line it ends in, whether a plain barline ends it
        self.ends: list[tuple[int, bool]] = []

    # the bar that is being typed

    def add(self, item: Item) -> None:
        """The next thing in the bar."""
        self.items.append(item)

    @property
    def last(self) -> Struck | None:
        """The last note, chord or rest in the bar."""
        return next((item for item in reversed(self.items) if isinstance(item, Struck)), None)

    @property
    def last_note(self) -> Small | Struck | None:
        """The last thing in the bar that a slur can end on, or the last note of the line."""
        here = next((item for item in reversed(self.items) if not isinstance(item, Mark)), None)
        return here or next((note for note in reversed(self.line_notes) if note is not None), None)

    @property
    def has_notes(self) -> bool:
        """Whether the bar that is being typed has any note, rest or gap."""
        return any(isinstance(item, Struck) for layer in (*self.layers, self.items) for item in layer)

    def sing(self, note: Struck | None, line: int) -> None:
        """A note, or a barline, that words typed under its line may belong to."""
        if line != self.line:
            self.line, self.line_notes = line, []
        self.line_notes.append(note)

    def retune(self, clef: Clef) -> None:
        """Another clef, or another way to sound, from here on."""
        if clef.transposition != self.clef.transposition and (self.has_notes or self.part.bars):
            self.add(Mark(lambda bar, at_q: self.part.transpositions.append((bar, at_q, clef.transposition))))
        self.clef = clef
        if not self.part.bars and not self.has_notes:
            self.first_clef = clef

    def overlay(self) -> None:
        """Begin the bar once more, in another layer."""
        self.layers.append(self.items)
        self.items = []

    def close_bar(self, line: int, *, plain: bool) -> None:
        """The bar is typed: its notes go to the part."""
        bar = self.gatherer.begin_bar("", self.meter)
        bar.repeat_forward, self.forward = self.forward, False
        if self.passes:
            bar.ending_starts.append(Ending(self.passes))
            self.passes, self.ending = (), True
        for number, items in enumerate([*self.layers, self.items]):
            self._place(items, "1" if number == 0 else f"1&{number}")
        self.gatherer.end_bar()
        self.ends.append((line, plain))
        self.items, self.layers, self.length_q = [], [], Fraction(0)
        self.accidentals.clear()

    def end_ending(self) -> None:
        """The bracket over the last bars ends."""
        if self.ending and self.part.bars:
            self.part.bars[-1].ending_stops = True
        self.ending = False

    def _place(self, items: list[Item], layer: str) -> None:
        at_q = Fraction(0)
        for item in items:
            if isinstance(item, Mark):
                item.put(self.gatherer.index, at_q)
            elif isinstance(item, Small):
                self.gatherer.small(layer, self._small_note(item), [item.spot])
            else:
                stop_q = at_q + item.length_q * item.ratio
                if item.gap:
                    self.gatherer.reach(stop_q)
                else:
                    self._event(item, layer, at_q, stop_q)
                at_q = stop_q

    def _small_note(self, item: Small) -> SmallNote:
        name, _ = named_value(item.length_q)
        return SmallNote(
            item.pitches,
            tuple(self.clef.transposition.sounding(pitch) for pitch in item.pitches),
            item.slash,
            item.length_q,
            name,
            tied_on=item.tied,
            ornaments=item.ornaments,
            articulations=item.articulations,
            line=item.line,
            ordinal=self.gatherer.count(len(item.pitches)),
        )

    def _event(self, item: Struck, layer: str, at_q: Fraction, stop_q: Fraction) -> None:
        name, dots = named_value(item.length_q)
        event = RawEvent(
            self.gatherer.index,
            at_q,
            stop_q - at_q,
            stop_q,
            layer,
            1,
            item.line,
            self.gatherer.count(len(item.pitches)),
            name,
            dots,
            item.ratio,
            item.articulations,
            item.pauses,
            item.fermata,
            (),
            (),
            tuple(self._note(pitch, item, place) for place, pitch in enumerate(item.pitches)),
            tuple(item.ties),
            any(on or back for on, back in item.ties),
        )
        item.spot.event = event
        self.gatherer.add(event)

    def _note(self, pitch: Pitch, item: Struck, place: int) -> Note:
        return Note(
            pitch,
            self.clef.transposition.sounding(pitch),
            ornaments=item.ornaments if place == 0 else (),
            unpitched=self.clef.percussion,
            line=item.line,
        )

    # what stands at a place

    def jump(self, kind: str) -> None:
        """A road sign in this bar."""

        def put(bar: int, at_q: Fraction) -> None:
            del at_q
            jumps = self.part.bars[bar].jumps
            if not any(jump.kind == kind for jump in jumps):
                jumps.append(Jump(kind))

        self.add(Mark(put))

    def finish(self) -> RawPart:
        """No bar is left: lyrics and slurs find their notes; returns the part."""
        for item in self.sung:
            event = item.spot.event
            if event is not None:
                for text in item.lyrics:
                    self.part.texts.append(Text(event.bar, event.at_q, event.duration_q, text, lyric=True))
        self.part.percussion = self.clef.percussion
        part = self.gatherer.finish()
        for number, (start, stop) in enumerate(self.slurs):
            start.spot.slur_to(stop.spot, str(number))
        return part


def named_value(length_q: Fraction) -> tuple[str | None, int]:
    """The note value of a length and its dots; no value where none has this length.

    >>> named_value(Fraction(3, 4))
    ('eighth', 1)
    """
    for dots in range(4):
        name = _BY_LENGTH.get(length_q / (2 - Fraction(1, 2**dots)))
        if name is not None:
            return name, dots
    return None, 0
