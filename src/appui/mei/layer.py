"""One layer of one staff in one bar: notes, chords, rests and small notes, with their exact place and length.

A small note's stroke is `stem.mod`, or what `grace` says: engravers draw ``unacc`` with a stroke and ``acc`` without. A
length is the note value with dots and tuplets, or `dur.ppq` where the file counts in pulses, which keeps tuplets that
are not marked as such.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.mei.edited import following
from appui.mei.names import Element, ident, text_of
from appui.mei.page import Around, Page
from appui.mei.staves import Staff
from appui.mei.values import (
    articulations,
    dots_of,
    fermata_of,
    first,
    length_of,
    pitch_of,
    printed_value,
    slash_of,
    slurs_of,
    strokes_of,
    ties_of,
)
from appui.musicxml.read.numbers import MAX_DURATION_Q, decimal
from appui.score.figured_bass import Text
from appui.score.gather import Spot
from appui.score.model import Note, Ornament, SmallNote
from appui.score.raw import RawEvent

__all__ = ["Layer"]

MAX_CHORD = 128  # as many as MIDI has keys


class Layer:
    """Reads the notes of a layer into its part; `at_q` is where in the bar the next one stands."""

    def __init__(self, page: Page, staff: Staff, voice: str) -> None:
        self.page, self.staff, self.voice = page, staff, voice
        self.gatherer = staff.part.gatherer
        self.at_q = Fraction(0)
        self._spans: list[tuple[str, Fraction]] = []
        self._rests = False

    def note(self, node: Element, around: Around) -> None:
        """A note."""
        self._struck(node, [node], around)

    def chord(self, node: Element, around: Around) -> None:
        """A chord; without notes it is nothing."""
        notes = list(following(node, "note"))
        if len(notes) > MAX_CHORD:
            raise self.page.where.error(
                f"a chord of more than {MAX_CHORD} notes", "correct it in the file", node.sourceline
            )
        if notes:
            self._struck(node, notes, around)

    def rest(self, node: Element, around: Around) -> None:
        """A rest with a value of its own."""
        around = self._spanned(around, node)
        printed = printed_value(self.page, self.staff, node)
        self._event([node], (), around, printed, length_of(self.page, self.staff, around, printed, node))

    def bar_rest(self, node: Element) -> None:
        """A rest of the whole bar, however long that comes out; a second one in a layer says nothing new."""
        if self._rests:
            return
        self._rests = True
        self.page.bar_rests.append(self._event([node], (), Around(), None, Fraction(0)))

    def space(self, node: Element, around: Around) -> None:
        """Time in which nothing is printed."""
        around = self._spanned(around, node)
        printed = printed_value(self.page, self.staff, node)
        self.page.moment(node, self.staff, self.gatherer.index, self.at_q)
        self._go_on(node, length_of(self.page, self.staff, around, printed, node))
        self._end_spans(node)

    def _go_on(self, node: Element, duration_q: Fraction) -> None:
        self.at_q = self.page.share(self.at_q + duration_q)
        if self.at_q > MAX_DURATION_Q:
            raise self.page.where.error(
                "a bar of more than 10,000 quarter notes", "correct the note values in the file", node.sourceline
            )
        self.gatherer.reach(self.at_q)

    # full-size notes

    def _struck(self, node: Element, notes: list[Element], around: Around) -> None:
        grace = first("grace", node, notes[0]) or around.grace
        around = self._spanned(around, node, *notes)
        if grace:
            self._small(node, notes, grace, around)
            return
        printed = printed_value(self.page, self.staff, node, notes[0])
        duration_q = length_of(self.page, self.staff, around, printed, node, notes[0])
        made = tuple(self._full(note, node, around) for note in notes)
        event = self._event([node, *notes], made, around, printed, duration_q)
        for place, note in enumerate(notes):
            start, stop = ties_of(note, node)
            if start or stop:
                Spot(event, "", place).tie(start=start, stop=stop)
            self.page.spot(note, event, place)
            self.page.moment(note, self.staff, event.bar, event.at_q)

    def _full(self, note: Element, outer: Element, around: Around) -> Note:
        written = pitch_of(self.page, self.staff, note)
        strokes = strokes_of(note, outer)
        tremolo = (Ornament("tremolo", (("type", "single"),), strokes),) if strokes else ()
        return Note(
            written,
            self.staff.transposition.sounding(written),
            ornaments=around.tremolo or tremolo,
            staff=self._staff_number(note, outer),
            hidden="false" in (note.get("visible"), outer.get("visible")),
            cue="true" in (note.get("cue"), outer.get("cue")),
            unpitched=self.staff.part.raw.percussion,
            line=note.sourceline or 0,
        )

    def _staff_number(self, *nodes: Element) -> int:
        """The staff of the part that a note is printed on: `staff` sends it to another one."""
        n, staves = first("staff", *nodes), self.staff.part.staves
        return staves.index(n) + 1 if n in staves else self.staff.number

    def _event(
        self,
        nodes: list[Element],
        notes: tuple[Note, ...],
        around: Around,
        printed: tuple[str, Fraction] | None,
        duration_q: Fraction,
    ) -> RawEvent:
        at_q, node = self.at_q, nodes[0]
        self.page.moment(node, self.staff, self.gatherer.index, at_q)
        self._go_on(node, duration_q)
        starts, stops = slurs_of(*dict.fromkeys(nodes))
        event = RawEvent(
            self.gatherer.index,
            at_q,
            self.page.share(duration_q),
            self.at_q,
            self.voice,
            notes[0].staff if notes else self.staff.number,
            node.sourceline or 0,
            self.gatherer.count(len(notes)),
            printed[0] if printed else None,
            dots_of(*nodes),
            self.page.share(duration_q / printed[1]) if printed else Fraction(1),
            articulations(*dict.fromkeys(nodes)),
            frozenset(),
            fermata_of(*nodes),
            starts,
            stops,
            notes,
            ((False, False),) * len(notes),
        )
        self.gatherer.add(event)
        self.page.spot(node, event, None)
        self._lyrics(nodes, event)
        self._end_spans(*nodes)
        return event

    def _lyrics(self, nodes: list[Element], event: RawEvent) -> None:
        for verse in (verse for node in dict.fromkeys(nodes) for verse in node.iterfind("verse")):
            words = text_of(verse)
            if words:
                self.staff.part.raw.texts.append(Text(event.bar, event.at_q, event.duration_q, words, lyric=True))

    # small notes

    def _small(self, node: Element, notes: list[Element], grace: str, around: Around) -> None:
        written = tuple(pitch_of(self.page, self.staff, note) for note in notes)
        printed = printed_value(self.page, self.staff, node, notes[0])
        stolen = self._stolen(node, notes[0])
        starts, stops = slurs_of(*dict.fromkeys((node, *notes)))
        small = SmallNote(
            written,
            tuple(self.staff.transposition.sounding(pitch) for pitch in written),
            slash_of(around, grace, node, notes[0]),
            printed[1] * around.ratio if printed else None,
            printed[0] if printed else None,
            stolen if grace == "unacc" else None,
            stolen if grace == "acc" else None,
            slur_start=bool(starts),
            slur_stop=bool(stops),
            tied_on=ties_of(node, notes[0])[0],
            hidden="false" in (node.get("visible"), notes[0].get("visible")),
            cue="true" in (node.get("cue"), notes[0].get("cue")),
            articulations=articulations(*dict.fromkeys((node, *notes))),
            staff=self._staff_number(notes[0], node),
            line=node.sourceline or 0,
            ordinal=self.gatherer.count(len(notes)),
        )
        each = dict.fromkeys((node, *notes))
        self.gatherer.small(self.voice, small, [spot for one in each for spot in self.page.small_spot(one)])
        for one in each:
            self.page.moment(one, self.staff, self.gatherer.index, self.at_q)
        self._end_spans(*each)

    def _stolen(self, *nodes: Element) -> Fraction | None:
        text = first("grace.time", *nodes).rstrip("%")
        return decimal(text, "grace.time", self.page.where, nodes[0].sourceline, 0, 100) if text else None

    # tuplets marked from note to note

    def _spanned(self, around: Around, *nodes: Element) -> Around:
        for name in dict.fromkeys(ident(node) for node in nodes):
            if name in self.page.spans:
                ratio, end = self.page.spans.pop(name)
                self._spans.append((end, ratio))
        for _, ratio in self._spans:
            around = around.within(ratio=around.ratio * ratio)
        return around

    def _end_spans(self, *nodes: Element) -> None:
        if self._spans:
            names = {ident(node) for node in nodes}
            self._spans = [span for span in self._spans if span[0] not in names]
