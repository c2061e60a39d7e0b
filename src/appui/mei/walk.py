"""Walking a score in MEI: movements, sections and endings, bars, staves, layers.

Bars are numbered as the file numbers them. A bar without a number goes on the one before it where that was cut short by
a barline inside it, else it is one more; a first bar that is short or says so (``metcon="false"``) is the pickup, 0.
"""

from __future__ import annotations

from appui.exact import Fraction
from appui.mei.bars import bars_of_rest, completes, is_short, next_number, passes_in, tuplets_in
from appui.mei.directions import DIRECTIONS, place_direction, tempo_of_definition
from appui.mei.edited import children, following
from appui.mei.groups import MAX_DEPTH, read_layer
from appui.mei.names import Element, refs
from appui.mei.page import Page
from appui.mei.places import Beside, Moment, Places
from appui.mei.signs import SIGNS, place_sign
from appui.mei.staves import PartOf, Staves
from appui.musicxml.read.numbers import Where
from appui.score.assemble import MAX_PARTS, too_many_parts
from appui.score.figured_bass import figures_in_texts
from appui.score.model import Ending, Meter
from appui.score.raw import RawPart

__all__ = ["walk_music"]

_POINTERS = ("startid", "endid", "plist")
_REPEATS_AT_START, _REPEATS_AT_END = ("rptstart", "rptboth"), ("rptend", "rptboth")


def walk_music(movements: list[Element], file: str) -> list[RawPart]:
    """The parts of some `score` elements, one after the other; raises `ScoreError` for what cannot be."""
    where = Where(file)
    page = Page(where, Staves(where), *_facts(movements))
    walker = _Walker(page)
    for movement in movements:
        walker.movement(movement)
    return walker.finish()


def _facts(movements: list[Element]) -> tuple[frozenset[str], bool, bool]:
    """What has to be known before: the ids others point to, whether accidentals and octaves are said as they sound."""
    wanted: set[str] = set()
    sounding = octaves = False
    for movement in movements:
        for node in movement.iter():
            attributes = node.attrib
            for name in _POINTERS:
                if name in attributes:
                    wanted.update(refs(node, name))
            sounding = sounding or "accid.ges" in attributes
            octaves = octaves or "oct.ges" in attributes
    return frozenset(wanted), not sounding, octaves


class _Walker:
    """Reads bar after bar; what stands beside the notes waits until all notes are there."""

    def __init__(self, page: Page) -> None:
        self.page, self.staves = page, page.staves
        self._beside: list[Beside] = []
        self._definitions: list[tuple[Element, Moment]] = []
        self._before: dict[tuple[str, str], Element] = {}
        self._number = ""
        self._bars = 0
        self._repeat_next = False

    def movement(self, score: Element) -> None:
        """One `score` element: its first definition says which staves play in it."""
        first = next(following(score, "scoreDef"), None)
        if first is not None:
            self.staves.begin(first)
            self._define_tempo(first)
        if len(self.staves.parts) > MAX_PARTS:
            raise too_many_parts(self.page.where.file, len(self.staves.parts))
        self._number = ""
        for child in children(score):
            if child is not first:
                self._section(child, 0)

    def finish(self) -> list[RawPart]:
        """Put in place what stands beside the notes; returns the parts."""
        raws = [part.gatherer.finish() for part in self.staves.parts]
        places = Places(self.page)
        for beside in self._beside:
            self.page.where.bar = self.staves.parts[0].raw.bars[beside.bar].number
            (place_sign if beside.node.tag in SIGNS else place_direction)(places, beside)
        for node, moment in self._definitions:
            tempo_of_definition(places, node, moment)
        for raw in raws:
            if not raw.figures:
                raw.figures = figures_in_texts(raw.texts)
        return raws

    # sections

    def _section(self, node: Element, depth: int) -> None:
        if depth > MAX_DEPTH:
            raise self.page.where.error(
                f"sections are nested more than {MAX_DEPTH} deep", "export the file again", node.sourceline
            )
        if node.tag == "measure":
            self._measure(node)
        elif node.tag == "scoreDef":
            self.staves.define(node)
            self._define_tempo(node)
        elif node.tag == "staffDef":
            self.staves.redefine(node)
        elif node.tag == "ending":
            self._ending(node, depth)
        elif node.tag in ("section", "part", "score"):
            for child in children(node):
                self._section(child, depth + 1)

    def _define_tempo(self, node: Element) -> None:
        staff = next(iter(self.staves.by_n.values()), None)
        if staff is not None and (node.get("midi.bpm") or node.get("mm")):
            self._definitions.append((node, Moment(staff, self._bars, Fraction(0))))

    def _ending(self, node: Element, depth: int) -> None:
        first = self._bars
        for child in children(node):
            self._section(child, depth + 1)
        if self._bars == first:
            return
        passes = passes_in(node.get("n") or node.get("label") or "")
        for part in self.staves.parts:
            part.raw.bars[first].ending_starts.append(Ending(passes))
            part.raw.bars[self._bars - 1].ending_stops = True

    # bars

    def _measure(self, node: Element) -> None:
        if not self.staves.parts:
            raise self.page.where.error(
                "music stands before any staff is defined", "export the file again", node.sourceline
            )
        self.page.where.bar = (node.get("n") or "").strip() or next_number(self._number)
        self.page.spans = tuplets_in(node, self.page.where)
        self.page.accidentals.clear()
        self._begin(node)
        for place, child in enumerate(following(node, "staff")):
            self._staff(child, place)
        self._fill(node)
        self._name(node)
        for part in self.staves.parts:
            part.gatherer.end_bar()
        self._bars += 1
        self._collect(node)
        for _ in range(1, bars_of_rest(node, self.page.where)):
            self._empty()

    def _begin(self, node: Element) -> None:
        forward = node.get("left") in _REPEATS_AT_START or self._repeat_next
        self._repeat_next = node.get("right") in _REPEATS_AT_START
        for part in self.staves.parts:
            bar = part.gatherer.begin_bar(self.page.where.bar, self._meter(part))
            bar.repeat_forward = forward
            bar.repeat_backward = 2 if node.get("right") in _REPEATS_AT_END else 0
            bar.final = node.get("right") == "end"

    def _meter(self, part: PartOf) -> Meter | None:
        """The meter of a part; that of the first staff where the part is silent in this movement."""
        staves = list(self.staves.by_n.values())
        own = next((staff for staff in staves if staff.part is part), next(iter(staves), None))
        return own.meter if own is not None else None

    def _staff(self, node: Element, place: int) -> None:
        n = node.get("n") or next(iter(list(self.staves.by_n)[place : place + 1]), "")
        staff = self.staves.by_n.get(n)
        if staff is None:
            self.staves.parts[0].raw.notice(
                self.page.where.place(node.sourceline), f"staff {n[:20]!r} is defined nowhere: left out"
            )
            return
        self.page.where.part = staff.part.raw.name
        for count, layer in enumerate(following(node, "layer"), 1):
            name = layer.get("n") or str(count)
            voice = name if staff.part.raw.staves == 1 else f"{staff.number}.{name}"
            read_layer(self.page, staff, layer, voice, self._before.get((n, name)))
            if layer.find("mRpt") is None:
                self._before[n, name] = layer
        self.page.where.part = ""

    def _fill(self, node: Element) -> None:
        """Rests of a bar are as long as it is: as its meter says, or as the notes of a pickup."""
        reached_q = max(part.raw.bars[-1].content_q for part in self.staves.parts)
        short = not self._number or node.get("metcon") == "false"
        for rest in self.page.bar_rests:
            meter = self.staves.parts[0].raw.bars[-1].meter
            bar_q = meter.bar_q if meter is not None else Fraction(4)
            end_q = reached_q if short and reached_q else max(bar_q, reached_q)
            rest.duration_q, rest.stop_q = self.page.share(end_q - rest.at_q), self.page.share(end_q)
        if self.page.bar_rests:
            for part in self.staves.parts:
                part.gatherer.reach(max((rest.stop_q for rest in self.page.bar_rests), default=Fraction(0)))
        self.page.bar_rests.clear()

    def _name(self, node: Element) -> None:
        """Number the bar that has been read."""
        bars = [part.raw.bars for part in self.staves.parts]
        first, odd = not self._number, node.get("metcon") == "false"
        goes_on = not first and completes([each[-2] for each in bars], [each[-1] for each in bars])
        said = (node.get("n") or "").strip()
        short = is_short([each[-1] for each in bars])
        if not said and first:
            said = "0" if odd or short else "1"
        elif not said:
            said = self._number if goes_on else next_number(self._number)
        implicit = (first and (odd or short)) or (goes_on and (odd or said == self._number))
        self._number = said
        for each in bars:
            each[-1].number, each[-1].implicit = said, implicit

    def _empty(self) -> None:
        """One more bar of a rest over several."""
        self._number = next_number(self._number)
        for part in self.staves.parts:
            last = part.raw.bars[-1]
            repeat, last.repeat_backward = last.repeat_backward, 0
            part.gatherer.begin_bar(self._number, last.meter).repeat_backward = repeat
        self._bars += 1

    def _collect(self, node: Element) -> None:
        every = list(self.staves.by_n.values())
        for child in children(node):
            if child.tag in SIGNS or child.tag in DIRECTIONS:
                named = [self.staves.by_n[n] for n in (child.get("staff") or "").split() if n in self.staves.by_n]
                self._beside.append(Beside(child, self._bars - 1, named or every[:1]))
