"""The accompaniment as a MusicXML file: the added part alone, bar for bar with the score it belongs to.

MusicXML 4.0, score-partwise, valid by 3.1 too (schema/musicxml.xsd, read). Bar numbers, meters, keys, tempos, repeats,
endings and leaps (da capo, dal segno) are the score's. Chord symbols and figures stand in the part they were
played from and go along. Same input, same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import lcm
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from appui.accompany.keyboard import PART_ID
from appui.errors import PlaceError
from appui.exact import Fraction
from appui.harmony.kinds import symbol_text
from appui.score.model import Bar, ChordSymbol, Event, FiguredBass, Note, Part, Score, Voice
from appui.score.pitch import alter_of

__all__ = ["accompaniment_xml"]

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
#  kind of leap or target -> the element or words of its direction, whether at the end of the bar
_JUMPS = {
    "segno": ("segno", "", False),
    "coda": ("coda", "", False),
    "dacapo": ("words", "D.C.", True),
    "dalsegno": ("words", "D.S.", True),
    "tocoda": ("words", "To Coda", True),
    "fine": ("words", "Fine", True),
}
_CLEFS = {1: ("G", 2), 2: ("F", 4)}


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


def _add(parent: Element, tag: str, text: object = None, **attributes: str) -> Element:
    child = SubElement(parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    if text is not None:
        child.text = str(text)
    return child


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
        root = Element("score-partwise", version="4.0")
        _add(root, "movement-title", f"{self.score.title}: accompaniment")
        _add(_add(_add(root, "identification"), "encoding"), "software", "appui")
        self._part_list(root)
        node = _add(root, "part", id=self.part.id)
        for bar in self.score.bars:
            self._measure(node, bar)
        indent(root, "  ")
        return (_HEAD + tostring(root, encoding="unicode") + "\n").encode()

    def _part_list(self, root: Element) -> None:
        part, name = _add(_add(root, "part-list"), "score-part", id=self.part.id), f"{self.part.id}-I1"
        _add(part, "part-name", self.part.name)
        instrument = _add(part, "score-instrument", id=name)
        _add(instrument, "instrument-name", self.part.name)
        _add(instrument, "instrument-sound", self.part.instrument)
        midi = _add(part, "midi-instrument", id=name)
        _add(midi, "midi-channel", 1)
        _add(midi, "midi-program", (self.part.program or 0) + 1)

    def _measure(self, parent: Element, bar: Bar) -> None:
        node = _add(parent, "measure", number=bar.number, **({"implicit": "yes"} if bar.implicit else {}))
        _left(node, self._before(bar), bar)
        self._attributes(node, bar)
        self._directions(node, bar)
        self._jumps(node, bar, at_end=False)
        for index, voice in enumerate(self.part.voices):
            events = [event for event in voice.events if event.bar == bar.index]
            if index:
                self._move(node, "backup", bar.length_q)
            self._voice(node, voice, events, bar, first=index == 0)
        self._jumps(node, bar, at_end=True)
        _right(node, self._after(bar), bar)

    def _before(self, bar: Bar) -> Bar | None:
        return self.score.bars[bar.index - 1] if bar.index else None

    def _after(self, bar: Bar) -> Bar | None:
        return self.score.bars[bar.index + 1] if bar.index + 1 < len(self.score.bars) else None

    def _attributes(self, node: Element, bar: Bar) -> None:
        before = self._before(bar)
        key = next(
            (key for key in reversed(self.part.keys) if bar.onset_q <= key.onset_q < bar.onset_q + bar.length_q), None
        )
        new_meter = before is None or before.meter != bar.meter
        if not (before is None or key or new_meter):
            return
        attributes = _add(node, "attributes")
        if before is None:
            _add(attributes, "divisions", self.divisions)
        if key is not None and not key.altered:
            written = _add(attributes, "key")
            _add(written, "fifths", key.fifths)
            if key.mode:
                _add(written, "mode", key.mode)
        if new_meter:
            time = _add(
                attributes, "time", **({"symbol": bar.meter.symbol} if bar.meter.symbol in ("common", "cut") else {})
            )
            _add(time, "beats", bar.meter.beats)
            _add(time, "beat-type", bar.meter.beat_type)
        if before is None:
            _add(attributes, "staves", 2)
            for staff, (sign, line) in _CLEFS.items():
                clef = _add(attributes, "clef", number=str(staff))
                _add(clef, "sign", sign)
                _add(clef, "line", line)

    def _directions(self, node: Element, bar: Bar) -> None:
        for tempo in self.score.tempos:
            if bar.onset_q <= tempo.onset_q < bar.onset_q + bar.length_q:
                direction = _add(node, "direction", placement="above")
                kind = _add(direction, "direction-type")
                _add(kind, "words", tempo.words or " ")
                self._offset(direction, tempo.onset_q - bar.onset_q, sound="yes")
                _add(direction, "sound", tempo=_number(tempo.qpm))

    def _jumps(self, node: Element, bar: Bar, *, at_end: bool) -> None:
        for jump in bar.jumps:
            tag, words, late = _JUMPS[jump.kind]
            if late != at_end:
                continue
            direction = _add(node, "direction", placement="above")
            _add(_add(direction, "direction-type"), tag, words or None)
            times = {"time-only": ", ".join(map(str, jump.passes))} if jump.passes else {}
            _add(direction, "sound", **{jump.kind: "yes" if jump.kind == "dacapo" else jump.name or "1"}, **times)

    def _offset(self, parent: Element, at_q: Fraction, **attributes: str) -> None:
        if at_q:
            _add(parent, "offset", int(at_q * self.divisions), **attributes)

    def _move(self, node: Element, tag: str, length_q: Fraction) -> None:
        if length_q:
            _add(_add(node, tag), "duration", int(length_q * self.divisions))

    def _voice(self, node: Element, voice: Voice, events: Sequence[Event], bar: Bar, *, first: bool) -> None:
        extra = list(self._printed(bar)) if first else []
        at_q = bar.onset_q
        for event in events:
            self._move(node, "forward", event.onset_q - at_q)
            while extra and extra[0].onset_q < event.end_q:
                self._extra(node, extra.pop(0), event.onset_q)
            self._event(node, event, voice.name)
            at_q = event.end_q
        self._move(node, "forward", bar.onset_q + bar.length_q - at_q)

    def _printed(self, bar: Bar) -> Iterator[ChordSymbol | FiguredBass]:
        both: list[ChordSymbol | FiguredBass] = [*self.part.chord_symbols, *self.part.figures]
        inside = [entry for entry in both if bar.onset_q <= entry.onset_q < bar.onset_q + bar.length_q]
        yield from sorted(inside, key=lambda entry: entry.onset_q)

    def _extra(self, node: Element, entry: ChordSymbol | FiguredBass, at_q: Fraction) -> None:
        if isinstance(entry, ChordSymbol):
            self._symbol(node, entry, at_q)
        else:
            # figures have no offset of their own: the cursor goes to where they stand and back
            self._move(node, "forward", entry.onset_q - at_q)
            self._figures(node, entry)
            self._move(node, "backup", entry.onset_q - at_q)

    def _symbol(self, node: Element, symbol: ChordSymbol, at_q: Fraction) -> None:
        harmony = _add(node, "harmony")
        _letter(_add(harmony, "root"), "root", symbol.root)
        text = symbol_text(symbol._replace(bass=""))
        named = _add(harmony, "kind", symbol.kind)
        named.set("text", symbol.text or text.removeprefix(symbol.root))
        if symbol.bass:
            _letter(_add(harmony, "bass"), "bass", symbol.bass)
        for value, alter, kind in symbol.degrees:
            degree = _add(harmony, "degree")
            _add(degree, "degree-value", value)
            _add(degree, "degree-alter", alter)
            _add(degree, "degree-type", kind)
        self._offset(harmony, symbol.onset_q - at_q)

    def _figures(self, node: Element, entry: FiguredBass) -> None:
        figured = _add(node, "figured-bass")
        for figure in entry.figures:
            inner = _add(figured, "figure")
            for tag, text in (("prefix", figure.prefix), ("figure-number", figure.number), ("suffix", figure.suffix)):
                if text:
                    _add(inner, tag, text)
            if figure.extend:
                _add(inner, "extend", **({"type": figure.extend} if figure.extend != "yes" else {}))
        if entry.duration_q:
            _add(figured, "duration", int(entry.duration_q * self.divisions))

    def _event(self, node: Element, event: Event, voice: str) -> None:
        for index, note in enumerate(event.notes or (None,)):
            written = _add(node, "note")
            if index:
                _add(written, "chord")
            _pitch(written, note)
            _add(written, "duration", int(event.duration_q * self.divisions))
            ties = [kind for kind, there in _ties(note) if there]
            for kind in ties:
                _add(written, "tie", type=kind)
            _add(written, "voice", voice)
            _look(written, event)
            _add(written, "staff", int(voice))
            if ties:
                notations = _add(written, "notations")
                for kind in ties:
                    _add(notations, "tied", type=kind)


def _ties(note: Note | None) -> tuple[tuple[str, bool], ...]:
    return (("stop", note.tied_back), ("start", note.tied_on)) if note else ()


def _pitch(parent: Element, note: Note | None) -> None:
    if note is None:
        _add(parent, "rest")
        return
    pitch = _add(parent, "pitch")
    _add(pitch, "step", note.written.step)
    if note.written.alter:
        _add(pitch, "alter", note.written.alter)
    _add(pitch, "octave", note.written.octave)


def _look(parent: Element, event: Event) -> None:
    if event.type_name is None:
        return
    _add(parent, "type", event.type_name)
    for _ in range(event.dots):
        _add(parent, "dot")
    if event.tuplet != 1:
        change = _add(parent, "time-modification")
        _add(change, "actual-notes", event.tuplet.denominator)
        _add(change, "normal-notes", event.tuplet.numerator)


def _letter(parent: Element, name: str, letter: str) -> None:
    _add(parent, f"{name}-step", letter[0])
    alter = alter_of(letter)
    if alter:
        _add(parent, f"{name}-alter", alter)


def _number(value: Fraction) -> str:
    return f"{float(value):.6f}".rstrip("0").rstrip(".")


def _passes(bar: Bar) -> str:
    return ", ".join(str(number) for ending in bar.endings for number in ending.passes)


def _left(node: Element, before: Bar | None, bar: Bar) -> None:
    opens = bar.endings and (before is None or before.endings != bar.endings)
    if opens or bar.repeat_forward:
        line = _add(node, "barline", location="left")
        if bar.repeat_forward:
            _add(line, "bar-style", "heavy-light")
        if opens:
            _add(line, "ending", number=_passes(bar), type="start")
        if bar.repeat_forward:
            _add(line, "repeat", direction="forward")


def _right(node: Element, after: Bar | None, bar: Bar) -> None:
    closes = bar.endings and (after is None or after.endings != bar.endings)
    if not (closes or bar.repeat_backward or after is None):
        return
    line = _add(node, "barline", location="right")
    if bar.repeat_backward or after is None:
        _add(line, "bar-style", "light-heavy")
    if closes:
        _add(line, "ending", number=_passes(bar), type="stop")
    if bar.repeat_backward:
        times = {"times": str(bar.repeat_backward)} if bar.repeat_backward > 2 else {}
        _add(line, "repeat", direction="backward", **times)
