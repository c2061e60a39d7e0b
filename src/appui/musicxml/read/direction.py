"""Directions, sounds, chord symbols and figures of one part: what stands between the notes.

Source: MusicXML 4.0 (read): `sound` is playback, `direction-type` what is printed; an offset moves the sound only where
it says ``sound="yes"``, so positions here are the reader's cursor unless it does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from appui.exact import Fraction, fraction_of
from appui.musicxml.read.note import NOTE_VALUES, Element
from appui.musicxml.read.numbers import Where, decimal, integer
from appui.score.figured_bass import Text, stacked
from appui.score.model import ChordSymbol, Figure, FiguredBass, Jump
from appui.score.raw import RawPart, RawTempo
from appui.score.road_words import road_word
from appui.score.tempo_words import tempo_word

__all__ = ["Directions"]

MAX_QPM = 1000
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_ACCIDENTAL_LETTERS = {1: "#", 0: "", -1: "b", 2: "##", -2: "bb"}


@dataclass(slots=True)
class Directions:
    """Collects the directions of one part into its `RawPart`; `bar` and `at_q` say where the cursor is."""

    part: RawPart
    where: Where
    bar: int = 0
    at_q: Fraction = Fraction(0)
    divisions: Fraction = Fraction(1)
    _wedges: dict[str, tuple[int, Fraction, str, int | None]] = field(default_factory=dict)

    def stand(self, bar: int, at_q: Fraction, divisions: Fraction) -> None:
        """Say where the next element stands."""
        self.bar, self.at_q, self.divisions = bar, at_q, divisions

    def direction(self, node: Element) -> None:
        """A `direction` element."""
        kinds: list[Element] = []
        beside: dict[str, Element] = {}
        for child in node:  # once for all: looking for each by its path takes three times as long
            if child.tag == "direction-type":
                kinds += child
            else:
                beside.setdefault(child.tag, child)
        self._shift(beside.get("offset"))
        staff_text = beside["staff"].text if "staff" in beside else None
        staff = integer(staff_text, "staff", self.where, node.sourceline, 1, 99) if staff_text else None
        sound = beside.get("sound")
        percent = self._percent(sound)
        words: list[str] = []
        for kind in kinds:
            self._printed(kind, staff, percent, words)
        text = " ".join(" ".join(words).split())
        if sound is not None:
            self.sound(sound, text)
        self._words(text, sound)
        if words:
            self.part.texts.append(Text(self.bar, self.at_q, Fraction(0), "\n".join(map(str.strip, words)), False))

    def _shift(self, offset: Element | None) -> None:
        if offset is not None and offset.get("sound") == "yes":
            value = decimal(offset.text, "offset", self.where, offset.sourceline, -(10**8), 10**8)
            self.at_q = max(Fraction(0), self.at_q + value / self.divisions)

    def _percent(self, sound: Element | None) -> Fraction | None:
        if sound is None or sound.get("dynamics") is None:
            return None
        percent = decimal(sound.get("dynamics"), "sound dynamics", self.where, sound.sourceline, -1000, 1000)
        return percent if percent > 0 else None  # some programs write a negative number for "none"

    def _printed(self, kind: Element, staff: int | None, percent: Fraction | None, words: list[str]) -> None:
        if kind.tag == "dynamics":
            for mark in kind:
                if isinstance(mark.tag, str):
                    name = mark.tag if mark.tag != "other-dynamics" else (mark.text or "").strip()
                    self.part.dynamics.append((self.bar, self.at_q, name, percent, staff))
        elif kind.tag == "wedge":
            self._wedge(kind, staff)
        elif kind.tag == "metronome":
            self._metronome(kind)
        elif kind.tag in ("words", "rehearsal") and kind.text:
            words.append(kind.text)
        elif kind.tag in ("segno", "coda"):
            self._jump(Jump(kind.tag))

    def _wedge(self, node: Element, staff: int | None) -> None:
        number, kind = node.get("number", "1"), node.get("type")
        if kind in ("crescendo", "diminuendo"):
            self._wedges[number] = (self.bar, self.at_q, kind, staff)
        elif kind == "stop":
            start = self._wedges.pop(number, None)
            if start is None:
                self.part.notice(self.where.place(node.sourceline), "a hairpin ends that never began: left out")
            elif (start[0], start[1]) < (self.bar, self.at_q):
                self.part.hairpins.append((start[0], start[1], self.bar, self.at_q, start[2], start[3]))

    def finish(self) -> None:
        """Say what was left open at the end of the part."""
        if self._wedges:
            self.part.notice(self.where.place(), "a hairpin begins and never ends: left out")

    def _metronome(self, node: Element) -> None:
        unit = NOTE_VALUES.get((node.findtext("beat-unit") or "").strip())
        match = _NUMBER.search(node.findtext("per-minute") or "")
        if unit is None or match is None:
            return
        dots = 0
        for child in node:
            if child.tag == "per-minute":
                break
            dots += child.tag == "beat-unit-dot"
        value = unit * (2 - Fraction(1, 2**dots)) * fraction_of(match.group())
        self._tempo(value, 1, "", node)

    def _tempo(self, qpm: Fraction, rank: int, words: str, node: Element) -> None:
        if qpm == 0:
            return  # MusicXML 4.0: 0 means the program should ask; the assumed tempo is reported instead
        if not Fraction(1) <= qpm <= MAX_QPM:
            raise self.where.error(
                f"a tempo of {float(qpm):g} quarter notes a minute", f"give one of 1 to {MAX_QPM}", node.sourceline
            )
        self.part.tempos.append(RawTempo(self.bar, self.at_q, qpm, rank, words))

    def sound(self, node: Element, words: str = "") -> None:
        """A `sound` element, inside a direction or on its own."""
        if node.get("tempo") is not None:
            value = decimal(node.get("tempo"), "tempo", self.where, node.sourceline, 0, 10**9)
            self._tempo(value, 0, words, node)
        for kind in ("segno", "coda", "dacapo", "dalsegno", "tocoda", "fine"):
            value = node.get(kind)
            if value is not None and value != "no":
                passes = tuple(int(n) for n in re.findall(r"\d+", node.get("time-only", ""))[:20])
                self._jump(Jump(kind, "" if value == "yes" else value, passes))

    def road_sign(self, kind: str) -> None:
        """A segno or coda printed on a barline."""
        self._jump(Jump(kind))

    def _jump(self, jump: Jump) -> None:
        jumps = self.part.bars[self.bar].jumps
        same = next((old for old in jumps if old.kind == jump.kind), None)
        if same is None:
            jumps.append(jump)
        elif jump.name and not same.name:
            jumps[jumps.index(same)] = jump

    def _words(self, text: str, sound: Element | None) -> None:
        if not text:
            return
        if tempo_word(text):
            self.part.tempos.append(RawTempo(self.bar, self.at_q, None, 2, text))
        kind = road_word(text)
        if kind is not None:
            self._jump(Jump(kind))

    def harmony(self, node: Element) -> None:
        """A chord symbol."""
        self._shift_harmony(node)
        root = self._letter(node.find("root"), "root")
        if not root:
            return
        kind = node.find("kind")
        degrees = tuple(
            (
                integer(d.findtext("degree-value"), "degree-value", self.where, d.sourceline, 1, 20),
                integer(d.findtext("degree-alter") or "0", "degree-alter", self.where, d.sourceline, -3, 3),
                (d.findtext("degree-type") or "add").strip(),
            )
            for d in node.iterfind("degree")
        )
        symbol = ChordSymbol(
            Fraction(0),
            root,
            (kind.text or "").strip() if kind is not None else "",
            self._letter(node.find("bass"), "bass"),
            degrees,
            (kind.get("text") or "") if kind is not None else "",
        )
        self.part.chord_symbols.append((self.bar, self.at_q, symbol))

    def _shift_harmony(self, node: Element) -> None:
        # a chord symbol's offset is where the chord is, not decoration: it has no `sound` attribute to ask for
        offset = node.findtext("offset")
        if offset:
            value = decimal(offset, "offset", self.where, node.sourceline, -(10**8), 10**8)
            self.at_q = max(Fraction(0), self.at_q + value / self.divisions)

    def _letter(self, node: Element | None, name: str) -> str:
        if node is None:
            return ""
        step = (node.findtext(f"{name}-step") or "").strip()
        alter = decimal(node.findtext(f"{name}-alter") or "0", f"{name}-alter", self.where, node.sourceline, -2, 2)
        return step + _ACCIDENTAL_LETTERS.get(int(alter), "") if step and step in "CDEFGAB" else ""

    def figured_bass(self, node: Element) -> None:
        """Figures under a bass note."""
        figures = tuple(figure for each in node.iterfind("figure") for figure in self._figures(each))
        text = node.findtext("duration")
        duration = (
            decimal(text, "duration", self.where, node.sourceline, 0, 10**8) / self.divisions if text else Fraction(0)
        )
        self.part.figures.append((self.bar, self.at_q, FiguredBass(Fraction(0), duration, figures)))

    def _figures(self, node: Element) -> tuple[Figure, ...]:
        """One printed figure: mostly one, two where they share an element; none, and a notice, where it is nonsense."""
        extend = node.find("extend")
        number, prefix, suffix = ((node.findtext(name) or "").strip() for name in ("figure-number", "prefix", "suffix"))
        figure = Figure(number, prefix, suffix, "" if extend is None else extend.get("type", "yes"))
        found = stacked(figure)
        if not found:
            self.part.notice(self.where.place(node.sourceline), f"{number[:20]!r} is no figure of a bass: left out")
        return found
