"""The passage engraved, a picture (SVG) a system, with the verdicts over the solo and the harmony under the staff.

verovio lays the notes out; `lettering` adds what is ours. Names given to the notes come out as the ids of the drawn
groups; its own notation, MEI, tells which drawn signs hang on which note. Same input, same picture: the engraver's own
names come from a fixed seed and are dropped again.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property, partial
from typing import Any

from lxml import etree

from appui.errors import ScoreError
from appui.notate.apart import engrave_all, engrave_apart
from appui.notate.point import decimal_point
from appui.page.lettering import Label, letter
from appui.page.marked import Marked

__all__ = ["GLYPHS", "Engraver", "Layout", "draw_small"]

MEI, XML = "{http://www.music-encoding.org/ns/mei}", "{http://www.w3.org/XML/1998/namespace}"
SVG = "{http://www.w3.org/2000/svg}"
#  our word for a sign -> MEI elements that draw it
GLYPHS: Mapping[str, tuple[str, ...]] = {
    "trill": ("trill",), "shake": ("trill",), "wavy line": ("trill",),
    "short trill": ("mordent",), "mordent": ("mordent",),
    "turn": ("turn",), "turn after": ("turn",), "inverted turn": ("turn",), "inverted turn after": ("turn",),
    "arpeggio": ("arpeg",), "fermata": ("fermata",), "breath mark": ("breath",), "caesura": ("caesura",),
}  # fmt: skip
_OPTIONS: dict[str, Any] = {
    "xmlIdSeed": 1,
    "breaks": "auto",
    "systemMaxPerPage": 1,
    "adjustPageHeight": True,
    "pageHeight": 60000,
    "header": "none",
    "footer": "none",
    "svgRemoveXlink": True,
    "svgViewBox": True,
    "svgFormatRaw": True,
    "smuflTextFont": "embedded",
    "mnumInterval": 1,
    "pageMarginTop": 30,
    "pageMarginBottom": 30,
    "pageMarginLeft": 10,
    "pageMarginRight": 10,
    "spacingStaff": 9,
    "minLastJustification": 0.5,
}


_SMALL_OPTIONS = _OPTIONS | {
    "breaks": "none",
    "adjustPageWidth": True,
    "pageWidth": 100000,
    "smuflTextFont": "none",
    "mnumInterval": 0,
    "pageMarginTop": 10,
    "pageMarginBottom": 0,
    "spacingLinear": 0.2,
}
#  drawings that share a process: to start one takes longer than to draw
_AT_ONCE = 100
#  processes that draw at the same time
_PROCESSES = 2


@dataclass(frozen=True, slots=True)
class Layout:
    """The passage at one width: systems as SVG, the shapes they share by name, the font of signs in text or nothing."""

    systems: tuple[str, ...]
    shapes: tuple[tuple[str, str], ...]
    font: str

    @property
    def places(self) -> list[tuple[int, float, float]]:
        """Of each system the index of its first bar, its width and its height, so that room can be kept for it."""
        return [_place(system) for system in self.systems]


@dataclass
class Engraver:
    """One score in the engraver, from bar index `first` to `last`. Raises `ScoreError` where it cannot draw it."""

    marked: Marked
    file: str
    first: int
    last: int
    _mei: Any = field(init=False)

    @decimal_point()
    def __post_init__(self) -> None:
        def work() -> list[str]:
            toolkit = _toolkit()
            toolkit.setOptions({"xmlIdSeed": 1})
            return [toolkit.getMEI({"scoreBased": True})] if toolkit.loadData(self.marked.text) else []

        found = engrave_apart(work, self.file)
        if not found:
            raise ScoreError(self.file, "the engraver cannot draw this score", "export the score again as MusicXML")
        self._mei = etree.fromstring(found[0].encode(), _parser())
        for index, bar in enumerate(self._mei.iter(f"{MEI}measure")):
            bar.set(f"{XML}id", f"bar-{index}")

        for tempo in self._mei.iter(f"{MEI}tempo"):
            _spaced(tempo)

    @property
    def bars(self) -> frozenset[str]:
        """The names of the drawn bars: ``bar-`` and the index."""
        return frozenset(f"bar-{index}" for index in range(self._bars))

    def glyphs(self, kind: str, note: str) -> tuple[str, ...]:
        """The names of the drawn signs of a kind over a note."""
        tags = GLYPHS.get(kind, ())
        return tuple(name for tag, name in self._over.get(note, ()) if tag in tags)

    @cached_property
    def _over(self) -> dict[str, list[tuple[str, str]]]:
        found: dict[str, list[tuple[str, str]]] = {}
        for tag in {tag for tags in GLYPHS.values() for tag in tags}:
            for node in self._mei.iter(f"{MEI}{tag}"):
                for note in (node.get("startid") or node.get("plist") or "").split():
                    found.setdefault(note.removeprefix("#"), []).append((tag, node.get(f"{XML}id")))
        return found

    def lay_out(self, width: int, kept: Iterable[str], labels: Sequence[Label] = (), size: int = 340) -> Layout:
        """The systems at a page width in the engraver's units, with labels in letters of a size.

        Only the names `kept` stay in the pictures.
        """
        return self.lay_out_all([(width, size)], kept, labels)[0]

    @decimal_point()
    def lay_out_all(
        self, sizes: Sequence[tuple[int, int]], kept: Iterable[str], labels: Sequence[Label] = ()
    ) -> list[Layout]:
        """The same at several page widths, each with its size of letters, all at the same time."""
        names = frozenset(kept)
        works = [partial(self._drawn, width, names, labels, size) for width, size in sizes]
        made = engrave_all(works, self.file)
        if not all(made):
            raise ScoreError(self.file, "the engraver cannot draw these bars", "leave out --bars, or name others")
        return [_unbundled(texts) for texts in made]

    def _drawn(self, width: int, kept: frozenset[str], labels: Sequence[Label], size: int) -> list[str]:
        toolkit = _toolkit()
        toolkit.setOptions(_OPTIONS | {"pageWidth": width})
        if (self.first, self.last) != (0, self._bars - 1):
            toolkit.select({"measureRange": f"{self.first + 1}-{self.last + 1}"})
        if not toolkit.loadData(etree.tostring(self._mei, encoding="unicode")):
            return []
        pages = [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]
        return _bundled(_tidied(pages, kept, labels, size)) if pages else []

    @property
    def _bars(self) -> int:
        return sum(1 for _ in self._mei.iter(f"{MEI}measure"))


@decimal_point()
def draw_small(texts: Sequence[str], kept: Iterable[str] = ()) -> tuple[list[str], dict[str, str]]:
    """Each of some bars of MusicXML on one line, as wide as they need: the pictures and their shapes by name.

    Only the names `kept` stay in the pictures. Raises `ScoreError` where they cannot be drawn.
    """
    names = frozenset(kept)
    groups = [texts[start : start + _AT_ONCE] for start in range(0, len(texts), _AT_ONCE)]
    pictures: list[str] = []
    shapes: dict[str, str] = {}
    for start in range(0, len(groups), _PROCESSES):
        works = [partial(_drawn_small, group, names) for group in groups[start : start + _PROCESSES]]
        for made in engrave_all(works, "a way of playing, written out"):
            layout = _unbundled(made)
            pictures += layout.systems
            shapes.update(layout.shapes)
    return pictures, shapes


def _drawn_small(texts: Sequence[str], kept: frozenset[str]) -> list[str]:
    toolkit = _small_toolkit()
    pages: list[str] = []
    for text in texts:
        toolkit.loadData(text)
        pages.append(toolkit.renderToSVG(1))
    return _bundled(_tidied(pages, kept, (), 0))


def _bundled(layout: Layout) -> list[str]:
    """A layout as texts, to come from another process."""
    return [layout.font, json.dumps(layout.shapes), *layout.systems]


def _unbundled(texts: Sequence[str]) -> Layout:
    font, shapes, *systems = texts
    return Layout(tuple(systems), tuple((name, shape) for name, shape in json.loads(shapes)), font)


def _spaced(tempo: Any) -> None:
    """A space between the words of a tempo and the note value after them."""
    for mark in tempo.iter(f"{MEI}rend"):
        before = mark.getprevious()
        if mark.get("glyph.auth") and before is not None and (before.text or "").strip():
            before.text = f"{before.text.rstrip()}\u00a0\u00a0"


def _toolkit() -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


@cache
def _small_toolkit() -> Any:
    toolkit = _toolkit()
    toolkit.setOptions(_SMALL_OPTIONS)
    return toolkit


def _parser() -> etree.XMLParser:
    return etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)


_SIZE = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_BAR = re.compile(r'id="bar-(\d+)"')


def _place(system: str) -> tuple[int, float, float]:
    size, bar = _SIZE.search(system), _BAR.search(system)
    width, height = map(float, size.groups()) if size else (1.0, 1.0)
    return int(bar.group(1)) if bar else 0, width, height


_NAMED_SHAPE = re.compile(r"([EF][0-9A-F]{3,4})-\w+")


def _tidied(pages: Sequence[str], kept: frozenset[str], labels: Sequence[Label], size: int) -> Layout:
    """The pictures without what they repeat: shapes of glyphs, the font, names nobody asks for."""
    shapes: dict[str, str] = {}
    font = ""
    systems: list[str] = []
    for page in pages:
        root = etree.fromstring(page.encode(), _parser())
        font = font or next(_fonts(root), "")
        for defs in root.findall(f"{SVG}defs"):
            for shape in defs:
                name = _NAMED_SHAPE.sub(r"\1", shape.get("id") or "")
                shape.set("id", name)
                shapes[name] = _text(shape)
        for node in [*root.iter(f"{SVG}defs", f"{SVG}style", f"{SVG}desc"), *_placeholders(root)]:
            node.getparent().remove(node)
        letter(root, labels, size)
        _strip(root, kept)
        systems.append(_text(root))
    return Layout(tuple(systems), tuple(sorted(shapes.items())), font)


def _placeholders(root: Any) -> Iterator[Any]:
    """Marks of the engraver's own that are not to be seen."""
    return (node for node in root.iter(f"{SVG}g") if "placeholder" in (node.get("class") or ""))


def _fonts(root: Any) -> Iterator[str]:
    for style in root.iter(f"{SVG}style"):
        found = re.search(r"url\((data:application/font-woff2[^)]*)\)", style.text or "")
        if found:
            yield found.group(1)


def _strip(root: Any, kept: frozenset[str]) -> None:
    for node in root.iter():
        name = node.get("id")
        if name is not None and name not in kept and not name.startswith("E"):
            del node.attrib["id"]
        shape = node.get("href")
        if shape is not None:
            node.set("href", _NAMED_SHAPE.sub(r"\1", shape))
        node.attrib.pop("color", None)


def _text(node: Any) -> str:
    node.tail = None
    return etree.tostring(node, encoding="unicode").replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
