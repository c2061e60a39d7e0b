"""The accompaniment as a MusicXML file: the added part alone, bar for bar with the score it belongs to.

Bar numbers, meters, keys, tempos, repeats, endings and leaps (da capo, dal segno) are the score's. Chord symbols and
figures stand in the part they were played from and go along. Same input, same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import lcm

from appui.accompany.keyboard import PART_ID
from appui.errors import PlaceError
from appui.exact import Fraction
from appui.harmony.kinds import symbol_text
from appui.musicxml.element import Element
from appui.musicxml.write.bar import edges, set_clefs, set_key, set_meter
from appui.musicxml.write.build import add, new, put
from appui.musicxml.write.chords import chord_symbol, figured_bass
from appui.musicxml.write.direction import at_end, jump, offset, tempo
from appui.musicxml.write.head import Player, file_bytes, list_part, new_score
from appui.musicxml.write.note import Look, forward, new_note
from appui.score.model import Bar, ChordSymbol, Event, FiguredBass, Note, Part, Score, Voice

__all__ = ["accompaniment_xml"]

_CLEFS = (("G", 2), ("F", 4))


def accompaniment_xml(score: Score) -> bytes:
    """The added part as MusicXML bytes; raises `PlaceError` where the score has none."""
    part = next((part for part in score.parts if part.id == PART_ID), None)
    if part is None:
        raise PlaceError(
            score.file,
            "has no added accompaniment to write",
            "give a score with figures or chord symbols and no accompaniment of its own, or a chart",
        )
    return _Writer(score, part).bytes()


class _Writer:
    """Writes one part of a score."""

    def __init__(self, score: Score, part: Part) -> None:
        self.score, self.part = score, part
        moments = [e.onset_q for v in part.voices for e in v.events] + [
            e.duration_q for v in part.voices for e in v.events
        ]
        moments += [symbol.onset_q for symbol in part.chord_symbols]
        moments += [moment for figures in part.figures for moment in (figures.onset_q, figures.duration_q)]
        moments += [tempo.onset_q for tempo in score.tempos] + [bar.onset_q for bar in score.bars]
        self.divisions = lcm(*(moment.denominator for moment in moments))

    def bytes(self) -> bytes:
        """The whole file."""
        root = new_score(f"{self.score.title}: accompaniment")
        player = Player(self.part.name, sound=self.part.instrument, program=(self.part.program or 0) + 1)
        part = list_part(root, self.part.id, player)
        for bar in self.score.bars:
            self._measure(add(part, "measure", number=bar.number, implicit="yes" if bar.implicit else None), bar)
        return file_bytes(root)

    def _measure(self, node: Element, bar: Bar) -> None:
        bars = self.score.bars
        before, after = bars[bar.index - 1] if bar.index else None, next(iter(bars[bar.index + 1 :]), None)
        left, right = edges(before, bar, after)
        if left is not None:
            node.append(left)
        self._attributes(node, before, bar)
        for mark in self.score.tempos:
            if _within(mark.onset_q, bar):
                node.append(
                    offset(tempo(mark.qpm, mark.words), self._divisions(mark.onset_q - bar.onset_q), sounds=True)
                )
        node.extend([jump(each) for each in bar.jumps if not at_end(each)])
        for index, voice in enumerate(self.part.voices):
            if index:
                forward(node, self._divisions(bar.length_q), "backup")
            self._voice(node, voice, bar, first=index == 0)
        node.extend([jump(each) for each in bar.jumps if at_end(each)])
        if right is not None:
            node.append(right)

    def _divisions(self, length_q: Fraction) -> int:
        return int(length_q * self.divisions)

    def _attributes(self, node: Element, before: Bar | None, bar: Bar) -> None:
        attributes = new("attributes")
        key = next((key for key in reversed(self.part.keys) if _within(key.onset_q, bar)), None)
        if before is None:
            put(attributes, new("divisions", self.divisions))
            set_clefs(attributes, _CLEFS)
        if key is not None:
            set_key(attributes, key)
        if before is None or before.meter != bar.meter:
            set_meter(attributes, bar.meter.beats, bar.meter.beat_type, bar.meter.symbol)
        if len(attributes):
            node.append(attributes)

    def _voice(self, node: Element, voice: Voice, bar: Bar, *, first: bool) -> None:
        extra = list(self._printed(bar)) if first else []
        at_q = bar.onset_q
        for event in (event for event in voice.events if event.bar == bar.index):
            forward(node, self._divisions(event.onset_q - at_q))
            while extra and extra[0].onset_q < event.end_q:
                self._extra(node, extra.pop(0), event.onset_q)
            node.extend(self._notes(event, voice.name))
            at_q = event.end_q
        forward(node, self._divisions(bar.onset_q + bar.length_q - at_q))

    def _printed(self, bar: Bar) -> Iterator[ChordSymbol | FiguredBass]:
        both: list[ChordSymbol | FiguredBass] = [*self.part.chord_symbols, *self.part.figures]
        yield from sorted((one for one in both if _within(one.onset_q, bar)), key=lambda entry: entry.onset_q)

    def _extra(self, node: Element, entry: ChordSymbol | FiguredBass, at_q: Fraction) -> None:
        later = self._divisions(entry.onset_q - at_q)
        if isinstance(entry, ChordSymbol):
            text = entry.text or symbol_text(entry._replace(bass="")).removeprefix(entry.root)
            node.append(offset(chord_symbol(entry.root, entry.kind, text, entry.bass, entry.degrees), later))
            return
        # figures have no offset of their own: the cursor goes to where they stand and back
        forward(node, later)
        node.append(figured_bass(entry.figures, self._divisions(entry.duration_q)))
        forward(node, later, "backup")

    def _notes(self, event: Event, voice: str) -> Iterator[Element]:
        tuplet = (event.tuplet.denominator, event.tuplet.numerator) if event.tuplet != 1 and event.type_name else None
        look = Look(event.type_name or "", event.dots if event.type_name else 0, tuplet)
        notes: Sequence[Note | None] = event.notes or (None,)
        for index, note in enumerate(notes):
            yield new_note(
                note.written if note else None,
                self._divisions(event.duration_q),
                look,
                chord=index > 0,
                ties=_ties(note) if note else (),
                voice=voice,
                staff=int(voice),
            )


def _within(onset_q: Fraction, bar: Bar) -> bool:
    return bar.onset_q <= onset_q < bar.onset_q + bar.length_q


def _ties(note: Note) -> list[str]:
    return ["stop"] * note.tied_back + ["start"] * note.tied_on
