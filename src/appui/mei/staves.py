"""Score definitions: which staves there are, which of them are one part, and what is in force on each.

Staves of one brace are one part (a keyboard) where they have no names of their own. A later definition that names other
staves (another movement) gives them to the parts of the same name, or of the same place where there are no names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from appui.exact import Fraction
from appui.mei.definitions import altered_by, beats_in, groups, key_accidentals, learn_instrument, name_in, unit_in
from appui.mei.names import Element
from appui.musicxml.read.numbers import MAX_DIVISIONS, Where, decimal, integer
from appui.score.gather import Gatherer
from appui.score.model import Meter
from appui.score.pitch import Transposition
from appui.score.raw import RawPart

__all__ = ["PartOf", "Staff", "Staves"]

_KEY = re.compile(r"(\d{1,2})([sf])")


@dataclass(slots=True)
class PartOf:
    """A part while it is read, and the numbers of its staves."""

    gatherer: Gatherer
    staves: list[str]
    named: bool

    @property
    def raw(self) -> RawPart:
        """What is read of it."""
        return self.gatherer.part


@dataclass(slots=True)
class Staff:
    """One staff: its part, which of the part's staves it is (from 1), and what is in force on it."""

    n: str
    part: PartOf
    number: int
    meter: Meter | None = None
    transposition: Transposition = field(default_factory=Transposition)
    #  letters that the key alters, in semitones, for files that leave sounding accidentals out
    signature: dict[str, int] = field(default_factory=dict)
    ppq: Fraction | None = None
    duration: str | None = None
    octave: str | None = None


class Staves:
    """All staves of a score by their `n`, and its parts in the order of the print."""

    def __init__(self, where: Where) -> None:
        self.where = where
        self.parts: list[PartOf] = []
        self.by_n: dict[str, Staff] = {}

    def begin(self, node: Element) -> None:
        """The first `scoreDef` of a movement: staves that it does not name are silent in it."""
        self.by_n = {}
        self.define(node)

    def define(self, node: Element) -> None:
        """A `scoreDef` before the next bar: new staves become parts, the others learn what is new."""
        for group, staff_defs in groups(node):
            numbers = [staff_def.get("n") or str(len(self.by_n) + 1) for staff_def in staff_defs]
            if not all(n in self.by_n for n in numbers):
                self._part(group, staff_defs, numbers)
        for staff in self.by_n.values():
            self._learn(staff, node)
        for staff_def in node.iter("staffDef"):
            self.redefine(staff_def)

    def redefine(self, node: Element) -> None:
        """A `staffDef` before the next bar: what is new on one staff."""
        staff = self.by_n.get(node.get("n") or "")
        if staff is not None:
            self._learn(staff, node)

    # parts

    def _part(self, group: Element | None, staff_defs: list[Element], numbers: list[str]) -> None:
        name = next((found for found in map(name_in, (group, *staff_defs)) if found), "")
        part = self._known(numbers, name)
        if part is None:
            part = self._new_part(name, [group, *staff_defs], numbers)
        for number, n in enumerate(numbers, 1):
            if n not in self.by_n or self.by_n[n].part is not part:
                self.by_n[n] = Staff(n, part, number)

    def _known(self, numbers: list[str], name: str) -> PartOf | None:
        """The part that these staves are, among those of an earlier definition."""
        taken = [id(staff.part) for staff in self.by_n.values()]
        same_size = [part for part in self.parts if len(part.staves) == len(numbers) and id(part) not in taken]
        if name:
            found = next((part for part in same_size if part.named and part.raw.name == name), None)
            if found is not None:
                return found
        same = next((part for part in same_size if part.staves == numbers), None)
        return same if same is not None and not (name and same.named) else None

    def _new_part(self, name: str, nodes: list[Element | None], numbers: list[str]) -> PartOf:
        index = len(self.parts) + 1
        raw = RawPart(f"P{index}", name or f"Part {index}", staves=len(numbers))
        for node in nodes:
            if node is not None:
                learn_instrument(node, raw, self.where)
        if not name and raw.instrument:
            raw.name = raw.instrument
        part = PartOf(Gatherer(raw), numbers, bool(name))
        before = self.parts[0].raw.bars if self.parts else []
        for bar in before:  # it is silent in the movements before
            part.gatherer.begin_bar(bar.number, bar.meter, implicit=bar.implicit)
        self.parts.append(part)
        return part

    # what is in force

    def _learn(self, staff: Staff, node: Element) -> None:
        staff.duration = node.get("dur.default") or staff.duration
        staff.octave = node.get("oct.default") or node.get("octave.default") or staff.octave
        if node.get("ppq"):
            staff.ppq = decimal(node.get("ppq"), "ppq", self.where, node.sourceline, 1, MAX_DIVISIONS)
        self.key(staff, node, len(staff.part.raw.bars), Fraction(0))
        self.meter(staff, node)
        self._transpose(staff, node)

    def key(self, staff: Staff, node: Element, bar: int, at_q: Fraction) -> None:
        """A key signature from a moment on: in the attributes of a definition, in its child or a `keySig` itself."""
        signature = node if node.tag == "keySig" else node.find("keySig")
        said = signature.get("sig") if signature is not None else node.get("keysig") or node.get("key.sig")
        if said is None:
            return
        mode = (signature if signature is not None else node).get("mode") or node.get("key.mode") or ""
        altered = tuple(key_accidentals(signature)) if signature is not None and said == "mixed" else ()
        match = _KEY.fullmatch(said)
        fifths = min(int(match[1]), 14) * (1 if match[2] == "s" else -1) if match else 0
        staff.signature = dict(altered) or altered_by(fifths)
        if staff.number == 1:
            raw = staff.part.raw
            raw.keys.append((bar, at_q, fifths, mode if mode in ("major", "minor") else "", altered))

    def meter(self, staff: Staff, node: Element) -> None:
        """A meter in the attributes of a definition, in its child or in a `meterSig` itself."""
        group = node.find("meterSigGrp")
        signatures = list(group.iterfind("meterSig")) if group is not None else []
        if not signatures:
            own = node if node.tag == "meterSig" else node.find("meterSig")
            signatures = [own] if own is not None else []
        if not signatures:
            found = self._meter(node, node.get("meter.count"), node.get("meter.unit"), node.get("meter.sym"))
        else:
            if group is not None and group.get("func") != "mixed":
                self._alternating(staff, signatures)
                signatures = signatures[:1]
            found = self._sum(
                [self._meter(one, one.get("count"), one.get("unit"), one.get("sym")) for one in signatures]
            )
        staff.meter = found or staff.meter

    def _alternating(self, staff: Staff, signatures: list[Element]) -> None:
        if len(signatures) > 1:
            staff.part.raw.notice(
                self.where.place(signatures[0].sourceline), "two meters take turns: the first is taken for both"
            )

    def _sum(self, meters: list[Meter | None]) -> Meter | None:
        known = [meter for meter in meters if meter is not None]
        if len(known) < 2:
            return known[0] if known else None
        unit = max(meter.beat_type for meter in known)
        beats = sum(Fraction(meter.beats * unit, meter.beat_type) for meter in known)
        return Meter(int(beats), unit) if beats.denominator == 1 else known[0]

    def _meter(self, node: Element, count: str | None, unit: str | None, symbol: str | None) -> Meter | None:
        if symbol in ("common", "cut"):
            plain = (4, 4) if symbol == "common" else (2, 2)
            return Meter(beats_in(count, plain[0], self.where, node), unit_in(unit, plain[1], self.where, node), symbol)
        if not count or not unit:
            return None
        return Meter(beats_in(count, 4, self.where, node), unit_in(unit, 4, self.where, node))

    def _transpose(self, staff: Staff, node: Element) -> None:
        if node.get("trans.semi") is None and node.get("trans.diat") is None:
            return
        line = node.sourceline
        chromatic = decimal(node.get("trans.semi") or "0", "trans.semi", self.where, line, -60, 60)
        text = node.get("trans.diat")
        diatonic = integer(text, "trans.diat", self.where, line, -60, 60) if text else round(chromatic * 7 / 12)
        staff.transposition = Transposition(diatonic, int(chromatic) if chromatic.denominator == 1 else chromatic)
        raw = staff.part.raw
        if staff.number == 1 and (raw.transpositions or staff.transposition != Transposition()):
            raw.transpositions.append((len(raw.bars), Fraction(0), staff.transposition))
