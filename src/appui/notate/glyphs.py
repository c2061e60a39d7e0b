"""Music signs within text, drawn as shapes: what draws an SVG may know no font of music.

The engraver writes notes of metronome marks and accidentals of chords as letters of a music font (SMuFL 1.4, read),
which a browser has to be given and a maker of PDF cannot have. Here each becomes the shape of the font, and the words
around it are set apart, by the widths the engraver itself reckons with. Two arrows of our own are drawn the same way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import NamedTuple

from lxml import etree

from appui.musicxml.element import Element
from appui.musicxml.write.build import children

__all__ = ["ARROWS", "with_shapes"]

SVG = "{http://www.w3.org/2000/svg}"
_MUSIC = "Leipzig"
#  our own signs in a square of 1000, the line of writing at 0: before the beat, on the beat
ARROWS = {
    "←": "M60 -260 L330 -470 L330 -300 L860 -300 L860 -220 L330 -220 L330 -50 Z",
    "↓": "M460 -640 L540 -640 L540 -200 L690 -200 L500 40 L310 -200 L460 -200 Z",
}
_ARROW_WIDTH = 940
_DOT = "\uecb7"
#  signs that stand on the line of writing in the font by their middle: how far up they go, in their size
_RAISED = {"\ue260": 0.08, "\ue261": 0.22, "\ue262": 0.22}
#  classes of the engraver's whose text its style makes heavy or slanted
_HEAVY, _SLANTED = {"tempo", "ending", "reh", "fing"}, {"dir", "dynam", "mNum"}


class _Run(NamedTuple):
    """Some letters of one kind: how large, and whether slanted or heavy."""

    text: str
    size: float
    style: str
    weight: str


def with_shapes(page: str) -> str:
    """A page (SVG) of the engraver with the music signs in its text as shapes; other text stays as it is."""
    root = etree.fromstring(page.encode(), etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
    for text in [node for node in root.iter(f"{SVG}text") if any(map(_is_sign, "".join(_letters(node))))]:
        parent = text.getparent()
        if parent is not None:
            parent.replace(text, _set_apart(text))
    return etree.tostring(root, encoding="unicode")


def _letters(node: Element) -> Iterator[str]:
    return (str(each) for each in node.itertext())


def _is_sign(letter: str) -> bool:
    return letter in ARROWS or 0xE000 <= ord(letter) <= 0xF8FF


def _set_apart(text: Element) -> Element:
    """The runs of a text one after the other, from where it begins, or around it where it is centred."""
    group = etree.Element(f"{SVG}g")
    runs = list(_spaced(run._replace(text=each) for run in _runs(text, 0, *_around(text)) for each in _split(run.text)))
    x, y, anchor = _start(text)
    x -= sum(map(_width, runs)) * {"middle": 0.5, "end": 1.0}.get(anchor, 0.0)
    for run in runs:
        if _is_sign(run.text[0]):
            _draw(group, run, x, y)
        elif words := run.text.strip():
            # blanks at an end are not drawn, but they take their room
            ahead = _width(run._replace(text=run.text[: run.text.index(words)]))
            _write(group, run._replace(text=words), x + ahead, y)
        x += _width(run)
    return group


def _spaced(runs: Iterable[_Run]) -> Iterator[_Run]:
    """A blank between a word and the note after it, hardly one between a note and its dot."""
    before = None
    for run, after in pairwise((*runs, None)):
        assert run is not None
        if not run.text.strip() and after is not None and after.text == _DOT:
            run = run._replace(size=run.size / 3)  # noqa: PLW2901
        if (
            before is not None
            and _is_note(run.text)
            and not _is_sign(before.text[-1])
            and before.text.strip() == before.text
        ):
            yield before._replace(text="\N{NO-BREAK SPACE}" * 2)
        yield run
        before = run


def _is_note(text: str) -> bool:
    """Whether a sign is a note value of a metronome mark."""
    return len(text) == 1 and 0xECA0 <= ord(text) <= 0xECB6


def _around(text: Element) -> tuple[str, str]:
    """How the style of the page slants and weighs a text, by the class of what it belongs to."""
    classes = {each for node in text.iterancestors(f"{SVG}g") for each in (node.get("class") or "").split()}
    return "italic" if classes & _SLANTED else "", "bold" if classes & _HEAVY else ""


def _start(text: Element) -> tuple[float, float, str]:
    """Where a text stands: its own place, or that of the first part that has one."""
    placed = next((node for node in text.iter(f"{SVG}text", f"{SVG}tspan") if node.get("x")), text)
    anchor = placed.get("text-anchor") or text.get("text-anchor") or "start"
    return float(placed.get("x") or 0), float(placed.get("y") or text.get("y") or 0), anchor


def _runs(node: Element, size: float, style: str, weight: str) -> Iterator[_Run]:
    """The letters of a text with what is said of them by the elements around."""
    told = (node.get("font-size") or "").removesuffix("px")
    size = float(told) if told and float(told) else size
    style, weight = node.get("font-style") or style, node.get("font-weight") or weight
    # blanks around the elements are the engraver's layout
    if node.text and (node.text.strip() or not len(node)):
        yield _Run(node.text, size, style, weight)
    for child in children(node):
        yield from _runs(child, size, style, weight)


def _split(text: str) -> Iterator[str]:
    """Signs one by one, words whole."""
    word = ""
    for letter in text:
        if _is_sign(letter):
            if word:
                yield word
            yield letter
            word = ""
        else:
            word += letter
    if word:
        yield word


def _width(run: _Run) -> float:
    if run.text in ARROWS:
        return _ARROW_WIDTH / 1000 * run.size
    font = _MUSIC if _is_sign(run.text[:1] or " ") else _text_font(run)
    units, widths = _widths(font)
    return sum(widths.get(ord(letter), units / 2) for letter in run.text) / units * run.size


def _text_font(run: _Run) -> str:
    kinds = ["bold"] * (run.weight == "bold") + ["italic"] * (run.style in ("italic", "oblique"))
    return "-".join(["text/Times", *kinds])


def _write(group: Element, run: _Run, x: float, y: float) -> None:
    node = etree.SubElement(group, f"{SVG}text", {"x": f"{x:g}", "y": f"{y:g}", "font-size": f"{run.size:g}px"})
    for name, value in (("font-style", run.style), ("font-weight", run.weight)):
        if value:
            node.set(name, value)
    node.text = run.text


def _draw(group: Element, run: _Run, x: float, y: float) -> None:
    scale = run.size / 1000
    # the shapes of the font have their y upwards
    shape, up = (ARROWS[run.text], scale) if run.text in ARROWS else (_shape(ord(run.text)), -scale)
    place = f"translate({x:g}, {y - _RAISED.get(run.text, 0) * run.size:g}) scale({scale:g}, {up:g})"
    etree.SubElement(group, f"{SVG}path", {"transform": place, "d": shape, "stroke": "none"})


@cache
def _widths(font: str) -> tuple[float, dict[int, float]]:
    """The units of a font, and how far each of its letters goes in them."""
    root = etree.fromstring((files("verovio") / "data" / f"{font}.xml").read_bytes())
    return float(root.get("units-per-em") or 1000), {
        int(node.get("c") or "0", 16): _advance(node) for node in root.iter("g")
    }


def _advance(letter: Element) -> float:
    """How far a letter goes: where the font's table leaves that out, its shape with as much room after as before it."""
    told, left, wide = (letter.get(name) for name in ("h-a-x", "x", "w"))
    return float(told) if told else 2 * float(left or 0) + float(wide or 0)


@cache
def _shape(code: int) -> str:
    """The shape of a sign, its y upwards; nothing where the font has none."""
    file = files("verovio") / "data" / _MUSIC / f"{code:04X}.xml"
    if not file.is_file():
        return ""
    path = etree.fromstring(file.read_bytes()).find(".//{*}path")
    return (path.get("d") or "") if path is not None else ""
