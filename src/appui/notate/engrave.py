"""Slots as MusicXML notes, put into the tree of a part in the place of the printed ones.

MusicXML 4.0, `schema/musicxml.xsd`, complex type note (read). What hung on the printed note goes along: lyrics, staff,
instrument, slurs and ties at their ends, fermatas and breaths at the last piece, articulations and words at the first.
Ornaments and small notes that are written out go. A leaning note has a tenuto stroke and a slur to its release, other
written-out notes a slur over their gesture. `attack`, `release` and `dynamics` hold what note values cannot: the exact
time and the weight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, children, copied, decimal_text, new, put, remove_tail_kept
from appui.musicxml.write.cut import unslur
from appui.musicxml.write.note import LATE, Look, new_note, notations_of
from appui.notate.line import Line, Slot
from appui.notate.pieces import Written
from appui.notate.slurs import NUMBERS, Slurs
from appui.notate.values import Tuplet, Value
from appui.perform.levels import FORTE
from appui.score.model import Event

__all__ = ["put_into"]

_GONE = frozenset({"ornaments", "arpeggiate", "non-arpeggiate", "tied", "tuplet", "slur", "glissando", "slide"})


def put_into(part: Element, line: Line, divisions: int) -> set[Element]:
    """Replace the printed notes of the slots in a part's tree by what is played; returns the new `note` elements.

    `divisions` of a quarter note must be the part's own throughout.
    """
    notes = [note for measure in part.iterfind("measure") for note in measure.iterfind("note")]
    small = [element for ordinal in line.small for element in _elements(notes, ordinal)]
    unslur(part, small)
    used = {slur.get("number", "1") for note in notes for slur in note.iterfind("notations/slur")}
    slurred = Slurs(line, [number for number in NUMBERS if number not in used])
    for ordinal, number in slurred.printed.items():
        add(notations_of(notes[ordinal]), "slur", type="stop", number=number)
    fresh: set[Element] = set()
    for slot in line.slots:
        old = _elements(notes, slot.event.ordinal)
        written = list(_Notes(line, slot, old, divisions, slurred).notes())
        for note in written:
            note.tail = old[0].tail
            old[0].addprevious(note)
        remove_tail_kept(old)
        fresh.update(written)
    remove_tail_kept(small)
    return fresh


def _elements(notes: Sequence[Element], ordinal: int) -> list[Element]:
    """A note element with the chord notes that follow it."""
    found = [notes[ordinal]]
    for note in notes[ordinal + 1 :]:
        if note.find("chord") is None or (note.find("grace") is None) != (found[0].find("grace") is None):
            break
        found.append(note)
    return found


class _Notes:
    """The notes of one slot."""

    def __init__(self, line: Line, slot: Slot, old: Sequence[Element], divisions: int, slurs: Slurs) -> None:
        self.line, self.slot, self.old, self.divisions, self.slurs = line, slot, old, divisions, slurs
        self.event: Event = slot.event

    def notes(self) -> Iterator[Element]:
        """Every note element, chords and ties included, in order."""
        last = len(self.slot.pieces) - 1
        for index, piece in enumerate(self.slot.pieces):
            count = len(piece.piece.values)
            for place, value in enumerate(piece.piece.values):
                first_of_all, last_of_all = index == place == 0, index == last and place == count - 1
                for voice in range(max(len(piece.tones), 1)):
                    yield self._note(
                        piece,
                        value,
                        voice,
                        place,
                        count,
                        opens=first_of_all and not voice,
                        closes=last_of_all and not voice,
                        edge=self._edge(index, piece.piece.tuplet) if place in (0, count - 1) else "",
                    )

    def _edge(self, index: int, tuplet: Tuplet | None) -> str:
        """Whether a piece begins or ends its tuplet."""
        pieces = self.slot.pieces
        before = index and pieces[index - 1].piece.tuplet == tuplet
        after = index + 1 < len(pieces) and pieces[index + 1].piece.tuplet == tuplet
        return "" if tuplet is None else ("" if before else "start") + ("" if after else " stop")

    def _note(
        self, piece: Written, value: Value, voice: int, place: int, count: int, *, opens: bool, closes: bool, edge: str
    ) -> Element:
        tuplet = piece.piece.tuplet
        share = value.look_q * (Fraction(tuplet.normal, tuplet.actual) if tuplet else 1)
        note = new_note(
            piece.pitches[voice] if piece.tones else None,
            int(share * self.slot.unit_q * self.divisions),
            Look(value.type, value.dots, self._ratio(tuplet)),
            chord=voice > 0,
            ties=self._ties(piece, voice, place, count) if piece.tones else (),
        )
        if piece.tones:
            self._playback(note, piece, voice, place, count)
        self._keep(note, ("instrument", "voice", "staff"))
        self._notations(note, piece, voice, opens=opens, closes=closes, edge=edge, first=place == 0)
        if opens:
            self._keep(note, ("lyric",))
        return note

    def _playback(self, note: Element, piece: Written, voice: int, place: int, count: int) -> None:
        """Exact time and level, where they are not what the values say."""
        tone = piece.tones[voice]
        if place == 0 and piece.starts[voice]:
            velocity = self.line.levels.get((tone.onset_q, tone.pitch))
            if velocity is not None and tone.sign is not None:
                note.set("dynamics", f"{velocity / FORTE * 100:.2f}")
            if piece.early_q:
                note.set("attack", decimal_text(piece.early_q * self.divisions))
        if place == count - 1 and piece.stops[voice] and piece.late_q:
            note.set("release", decimal_text(piece.late_q * self.divisions))

    def _ties(self, piece: Written, voice: int, place: int, count: int) -> list[str]:
        back = place > 0 or not piece.starts[voice]
        on = place < count - 1 or not piece.stops[voice]
        return ["stop"] * back + ["start"] * on

    def _keep(self, note: Element, tags: Sequence[str]) -> None:
        """What the printed note has of some elements goes along."""
        for child in children(self.old[0]):
            if child.tag in tags:
                put(note, copied(child))

    def _ratio(self, tuplet: Tuplet | None) -> tuple[int, int] | None:
        """How many notes in the time of how many: the printed note's tuplet, and ours within it."""
        own = self.event.tuplet
        if own == 1 and tuplet is None:
            return None
        return own.denominator * (tuplet.actual if tuplet else 1), own.numerator * (tuplet.normal if tuplet else 1)

    def _notations(
        self, note: Element, piece: Written, voice: int, *, opens: bool, closes: bool, edge: str, first: bool
    ) -> None:
        if voice:
            return
        found = notations_of(note)
        self._slurred(found, piece, opens=opens, closes=closes, first=first)
        for tuplet in self.old[0].iterfind("notations/tuplet"):
            if opens if tuplet.get("type") == "start" else closes:
                found.append(copied(tuplet))
        for kind in edge.split():
            add(found, "tuplet", type=kind, number="2" if self.event.tuplet != 1 else "1")
        found.extend(self._kept(opens=opens, closes=closes, struck=first and self._is_main(piece)))
        if first and piece.starts[:1] == (True,) and any(tone.role == "lean" for tone in piece.tones):
            articulations = found.find("articulations")
            add(articulations if articulations is not None else add(found, "articulations"), "tenuto")
        if not len(found):
            note.remove(found)

    def _slurred(self, found: Element, piece: Written, *, opens: bool, closes: bool, first: bool) -> None:
        onsets = (
            {tone.onset_q for tone, starts in zip(piece.tones, piece.starts, strict=True) if starts} if first else set()
        )
        for kind, ends in (("stop", self.slurs.last), ("start", self.slurs.first)):
            for number in (n for onset in sorted(onsets) for n in ends.get((self.slot.voice, onset), ())):
                add(found, "slur", type=kind, number=number)
        for slur in self.old[0].iterfind("notations/slur"):
            if (opens and slur.get("type") == "start") or (closes and slur.get("type") == "stop"):
                found.append(copied(slur))

    def _is_main(self, piece: Written) -> bool:
        """Whether a piece is the printed note itself: it keeps the staccato or accent."""
        return any(
            starts and tone.role in ("plain", "main", "release")
            for tone, starts in zip(piece.tones, piece.starts, strict=True)
        )

    def _kept(self, *, opens: bool, closes: bool, struck: bool) -> Iterator[Element]:
        """What else hung on the printed note."""
        for child in (child for notations in self.old[0].iterfind("notations") for child in children(notations)):
            if child.tag in _GONE or (child.tag == "fermata" and self.slot.extra_q):
                continue
            if child.tag == "articulations":
                yield from _articulations(child, struck=struck, closes=closes)
            elif closes if child.tag in LATE else opens:
                yield copied(child)


def _articulations(node: Element, *, struck: bool, closes: bool) -> Iterator[Element]:
    kept = new("articulations")
    kept.extend([copied(child) for child in children(node) if (closes if child.tag in LATE else struck)])
    if len(kept):
        yield kept
