"""The part engraved: pages with turns at rests, decisions in grey pencil, what the pencil means at the foot.

verovio lays it out twice: once on a page without end, to see which bars make a line and how high lines are; then with
lines and pages where they are wanted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from copy import deepcopy
from itertools import pairwise
from typing import Any

from lxml import etree

from appui.musicxml.element import Element
from appui.musicxml.write.build import remove
from appui.musicxml.write.head import tree_bytes
from appui.notate.apart import engrave_apart
from appui.notate.glyphs import with_shapes
from appui.notate.output import OPTIONS, engraved
from appui.notate.part import SoloPart
from appui.notate.pencil import LEGEND, Pencil
from appui.notate.point import decimal_point
from appui.notate.rests import drawn_bars
from appui.notate.turns import System, page_end, silences_s
from appui.score.model import Score

__all__ = ["part_pages"]

MEI, XML, SVG = (
    "{http://www.music-encoding.org/ns/mei}",
    "{http://www.w3.org/XML/1998/namespace}",
    "{http://www.w3.org/2000/svg}",
)
#  of the page, in tenths of a millimetre; what the first page's head takes, in drawing units
_MARGIN, _HEAD, _FOOT = 100, 2300, 1100
_OPTIONS = OPTIONS | {
    "pageMarginTop": _MARGIN, "pageMarginBottom": _MARGIN, "pageMarginLeft": 120, "pageMarginRight": 120,
    "mnumInterval": 0, "spacingSystem": 2, "minLastJustification": 0.6, "xmlIdSeed": 1,
}  # fmt: skip
_ENDLESS = {
    "breaks": "auto",
    "pageHeight": 60000,
    "adjustPageHeight": True,
    "header": "none",
}
_PAGE_HEIGHT = 29700.0
#  so many bars fill a page, whatever is in them
_AHEAD = 130
_PENCIL = "#555555"
#  title, player, composer: how large in percent, and how high at the head
_HEADS = ((170, "top"), (120, "bottom"), (90, "bottom"))
#  so many letters of a hundredth of the usual size go from edge to edge
_ROOM_AT_HEAD = 8800


@decimal_point()
def part_pages(made: SoloPart, score: Score, head: str) -> tuple[list[str], list[int], tuple[str, ...]]:
    """The pages as SVG, the bars (by index) that begin a page, and what is to be said of turns.

    `head` is whose part it is. Raises `ScoreError` where the engraver cannot draw it.
    """
    for each in made.pencils:
        if each.ordinal in made.places:
            made.places[each.ordinal].set("id", f"note-{each.ordinal}")
    bars = drawn_bars(made.root.findall("part/measure"))
    text = _plainly(made.root)
    for note in made.places.values():
        note.attrib.pop("id", "")
    rests = silences_s(score, made.line.part)
    after = [rests[min(following - 1, len(rests) - 1)] for following in (*bars[1:], len(rests))]

    def work() -> list[str]:
        mei = _mei(text, score.file, bars, made.pencils)
        starts, hurried = _paged(mei, after)
        toolkit = _toolkit({"breaks": "encoded"})
        toolkit.loadData(etree.tostring(mei, encoding="unicode"))
        pages = [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]
        return [",".join(map(str, starts)), ",".join(map(str, hurried)), *(_finished(page) for page in pages)]

    starts, hurried, *pages = engrave_apart(work, score.file)
    told = tuple(f"page {page} ends without a rest to turn at" for page in _numbers(hurried))
    return _numbered(_with_legend(pages, made.pencils), head), [bars[start] for start in _numbers(starts)], told


def _numbers(text: str) -> list[int]:
    return [int(word) for word in text.split(",") if word]


def _toolkit(options: dict[str, Any]) -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(_OPTIONS | options)
    return toolkit


def _plainly(root: Element) -> bytes:
    """The part as a file without gathered rests: the engraver would lose what stands over their first bar."""
    plain = deepcopy(root)
    for style in list(plain.iter("measure-style")):
        remove(style)
    return tree_bytes(plain)


def _mei(text: bytes, name: str, bars: Sequence[int], pencils: Sequence[Pencil]) -> Element:
    """The part in the engraver's own notation: head arranged, rests gathered, the pencil marks added.

    `bars` are those that are drawn, by index.
    """
    found = engraved(text, name).getMEI({"scoreBased": True})
    mei = etree.fromstring(found.encode(), etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
    for head in mei.iter(f"{MEI}pgHead"):
        for rend, (size, height) in zip(head.iter(f"{MEI}rend"), _HEADS, strict=False):
            long = len("".join(str(each) for each in rend.itertext()))
            rend.set("fontsize", f"{size * min(1.0, _ROOM_AT_HEAD / (size * max(long, 1))):.0f}%")
            rend.set("valign", height)
    _gather(mei, bars)
    measure_of = {
        note.get(f"{XML}id"): measure
        for measure in mei.iter(f"{MEI}measure")
        for note in measure.iter(f"{MEI}note", f"{MEI}rest")
    }
    for each in pencils:
        measure = measure_of.get(f"note-{each.ordinal}")
        if measure is not None:
            _pencil(measure, each)
    return mei


def _gather(mei: Element, bars: Sequence[int]) -> None:
    """Draw as one the bars from one that is drawn to before the next."""
    measures = list(mei.iter(f"{MEI}measure"))
    for first, following in pairwise((*bars, len(measures))):
        rest = next(measures[first].iter(f"{MEI}mRest"), None)
        parent = rest.getparent() if rest is not None else None
        if following - first > 1 and rest is not None and parent is not None:
            parent.replace(rest, etree.Element(f"{MEI}multiRest", {"num": str(following - first)}))
            for measure in measures[first + 1 : following]:
                remove(measure)


def _pencil(measure: Element, each: Pencil) -> None:
    place = {"place": "above", "startid": f"#note-{each.ordinal}", "type": "pencil"}
    node = etree.SubElement(measure, f"{MEI}dir", place)
    music = any("\ue000" <= letter <= "\uf8ff" for letter in each.signs)
    rend = etree.SubElement(node, f"{MEI}rend", {"glyph.auth": "smufl"} if music else {})
    rend.set("fontsize", "55%" if music else "75%")
    rend.text = each.signs


def _paged(mei: Element, after: Sequence[float]) -> tuple[list[int], list[int]]:
    """Put line and page breaks into the tree: the drawn bars that begin a page, and pages without a rest to turn at."""
    measures = list(mei.iter(f"{MEI}measure"))
    for old in [*mei.iter(f"{MEI}pb"), *mei.iter(f"{MEI}sb")]:
        remove(old)
    starts: list[int] = []
    hurried: list[int] = []
    start = 0
    text = etree.tostring(mei, encoding="unicode")
    while start < len(measures):
        room = _PAGE_HEIGHT - 20 * _MARGIN - _FOOT - (0 if start else _HEAD) - 2000
        page = len(starts) + 1
        systems = _systems(text, start, min(start + _AHEAD, len(measures)) - 1)
        end, turns = page_end(systems, room, lambda bar: after[bar], turned=page % 2 == 1)
        if end < len(measures) - 1 and end not in {system.last for system in systems}:
            systems = _systems(text, start, end)
        for system in systems:
            if system.first <= end:
                tag = "pb" if system.first == start else "sb"
                measures[system.first].addprevious(etree.Element(f"{MEI}{tag}"))
        starts.append(start)
        hurried += [] if turns else [page]
        start = end + 1
    return starts, hurried


def _systems(text: str, first: int, last: int) -> list[System]:
    """The lines that some drawn bars make on a page without end."""
    toolkit = _toolkit(_ENDLESS)
    toolkit.select({"measureRange": f"{first + 1}-{last + 1}"})
    toolkit.loadData(text)
    found: list[System] = []
    for page in range(1, toolkit.getPageCount() + 1):
        root = etree.fromstring(toolkit.renderToSVG(page).encode())
        below = found[-1].top + 3000 if found else 0.0
        for system in (node for node in root.iter(f"{SVG}g") if node.get("class") == "system"):
            bars = sum(1 for node in system.iter(f"{SVG}g") if "measure" in (node.get("class") or "").split())
            start = found[-1].last + 1 if found else first
            found.append(System(start, start + bars - 1, below + _top(system)))
    return found


def _top(system: Element) -> float:
    """The height of the first staff line of a system."""
    staff = next(node for node in system.iter(f"{SVG}g") if "staff" in (node.get("class") or "").split())
    line = re.match(r"M-?[\d.]+ (-?[\d.]+)", next(staff.iter(f"{SVG}path")).get("d") or "")
    return float(line.group(1)) if line else 0.0


# drawing

_GAP = "\N{NO-BREAK SPACE}" * 8


def _finished(page: str) -> str:
    """The page with its signs as shapes, and the pencil grey, a slur under the values of a leaning note."""
    root = etree.fromstring(with_shapes(page).encode())
    curves = [*(_points(path) for path in _drawn(root, "slur", "tie")), *_heads(root)]
    for group in root.iter(f"{SVG}g"):
        if "pencil" in (group.get("class") or "").split():
            group.set("fill", _PENCIL)
            group.set("color", _PENCIL)
            _slur(group)
            _lift(group, curves)
    return etree.tostring(root, encoding="unicode")


def _drawn(root: Element, *kinds: str) -> Iterator[Element]:
    """The paths of things of some kinds."""
    groups = (group for group in root.iter(f"{SVG}g") if set(kinds) & set((group.get("class") or "").split()))
    return (path for group in groups for path in group.iter(f"{SVG}path"))


_NUMBER = re.compile(r"-?[\d.]+")


def _points(path: Element) -> list[tuple[float, float]]:
    """Points along the first curve of a slur, from its start to its end (a cubic Bézier curve)."""
    numbers = [float(each) for each in _NUMBER.findall(path.get("d") or "")[:8]]
    if len(numbers) < 8:
        return []
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = zip(numbers[::2], numbers[1::2], strict=True)
    shares = [((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3) for t in (step / 24 for step in range(25))]
    return [(a * ax + b * bx + c * cx + d * dx, a * ay + b * by + c * cy + d * dy) for a, b, c, d in shares]


def _heads(root: Element) -> Iterator[list[tuple[float, float]]]:
    """The upper edges of noteheads: no mark goes through these either."""
    for group in root.iter(f"{SVG}g"):
        if "notehead" in (group.get("class") or "").split():
            for use in group.iter(f"{SVG}use"):
                if match := _MARK.match(use.get("transform") or ""):
                    x, y = (float(each) for each in match.groups())
                    yield [(x, y - 150), (x + 250, y - 150)]


_MARK = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\)")


def _lift(group: Element, curves: Sequence[Sequence[tuple[float, float]]]) -> None:
    """Move a pencil mark up over the slurs that would go through it."""
    found = [match for path in group.iter(f"{SVG}path") if (match := _MARK.match(path.get("transform") or ""))]
    if not found:
        return
    xs, foot = [float(match.group(1)) for match in found], float(found[0].group(2)) + 120
    near = [
        y for curve in curves for x, y in curve if min(xs) - 150 <= x <= max(xs) + 300 and foot - 700 < y < foot + 60
    ]
    if near:
        group.set("transform", f"translate(0, {min(near) - foot - 60:g})")


#  of a sign of the music font, whose y is upwards
_PLACE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\) scale\(([\d.]+), -")


def _slur(group: Element) -> None:
    """A thin slur under the first and the last of several note values."""
    found = [match for path in group.iter(f"{SVG}path") if (match := _PLACE.match(path.get("transform") or ""))]
    heads = [(float(x), float(y), float(scale)) for x, y, scale in (match.groups() for match in found)]
    if len(heads) < 2:
        return
    (x, y, scale), (end, _, _) = heads[0], heads[-1]
    start, end, y = x + 150 * scale, end + 150 * scale, y + 230 * scale
    curve = f"M{start:g} {y:g} Q{(start + end) / 2:g} {y + 260 * scale:g} {end:g} {y:g}"
    parent = next(group.iter(f"{SVG}path")).getparent()
    if parent is not None:
        etree.SubElement(
            parent, f"{SVG}path", {"d": curve, "fill": "none", "stroke": _PENCIL, "stroke-width": f"{45 * scale:g}"}
        )


def _with_legend(pages: list[str], pencils: Sequence[Pencil]) -> list[str]:
    """What the pencil marks that are there mean, at the foot of the first page."""
    used = {letter for each in pencils for letter in each.signs}
    rows = [row for row in LEGEND if row[0][0] in used or (row[0][0] not in "←↓" and any(x > "\ue000" for x in used))]
    if not rows or not pages:
        return pages
    words = [
        (letters, size)
        for signs, meaning in rows
        for letters, size in (
            (signs, 450 if signs[0] in "←↓" else 420),
            (f"\N{NO-BREAK SPACE}{meaning}{_GAP}", 320),
        )
    ]
    return [_finished(_written(pages[0], words, 1200, _PAGE_HEIGHT - 700, "dir pencil")), *pages[1:]]


def _numbered(pages: Sequence[str], name: str) -> list[str]:
    """The pages with whose part they are and their number at the head, from the second on."""
    return [
        page if number == 1 else _written(page, [(f"{name}{_GAP}{number}", 360)], 1200, 800, "pageNumber")
        for number, page in enumerate(pages, 1)
    ]


def _written(page: str, words: Sequence[tuple[str, int]], x: float, y: float, kind: str) -> str:
    """The page with a line of words of our own, each with its size, in drawing units."""
    root = etree.fromstring(page.encode())
    inner = next(node for node in root.iter(f"{SVG}svg") if "definition-scale" in (node.get("class") or ""))
    group = etree.SubElement(inner, f"{SVG}g", {"class": kind})
    text = etree.SubElement(group, f"{SVG}text", {"x": f"{x:g}", "y": f"{y:g}", "font-size": "0px"})
    for letters, size in words:
        etree.SubElement(text, f"{SVG}tspan", {"font-size": f"{size}px"}).text = letters
    return etree.tostring(root, encoding="unicode")
