"""The survey on paper: every ornament with its bar in notes, chord, decision, a reason in a few words, a box to tick.

Two columns of rows on A4, some thirty to a page. Drawn as SVG, so that the PDF and the page for a browser are the same.
Lengths are tenths of a millimetre. Widths of text are reckoned from the number of letters, since fonts differ.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from lxml import etree

from appui.errors import UsageError
from appui.harmony.model import DISSONANCE, MEMBER, Verdict
from appui.interpret.interpretation import Interpretation
from appui.interpret.printed import printed_tree
from appui.musicxml.element import Element
from appui.musicxml.write.build import copied, remove
from appui.musicxml.write.cut import alone
from appui.musicxml.write.partwise import part_element
from appui.notate.glyphs import with_shapes
from appui.notate.output import pdf_of
from appui.page.engrave import draw_small
from appui.page.words import pretty
from appui.score.signs import Sign
from appui.style.choose import Choice

__all__ = ["SUFFIXES", "Row", "rows_of", "sheet_bytes", "sheet_pages", "short_reason"]

SUFFIXES = (".pdf", ".html", ".htm")
SVG = "{http://www.w3.org/2000/svg}"
_WIDTH, _HEIGHT, _EDGE, _TOP, _FOOT = 2100, 2970, 110, 300, 130
_COLUMNS, _ROW, _GAP = 2, 149, 50
_MOST_WORDS = 5
_LEFT_OUT = ("direction", "harmony", "figured-bass", "sound", "print", "listening", "barline")
_MARK = "sign"
#  of the picture of a bar: its place in a row, and how large it may be
_MUSIC_X, _MUSIC_WIDTH, _MUSIC_HEIGHT, _TEXT_X = 155, 400, 130, 575
_SCALE = 1 / 13  # of the engraver's units, where there is room
#  words that a shortened reason does not end with
_OPEN_ENDS = frozenset("a an the and or of on in at as with from to after before its it is".split())
#  accidentals as letters of the music font, which is larger than text of its size
_SIGNS, _SIGN_SIZE = {"♭": "\ue260", "♯": "\ue262"}, 1.3


class Row(NamedTuple):
    """What the sheet says of one ornament: part and place in it, chord, decision, reason, whether it is doubtful."""

    part: str
    place: str
    chord: str
    decision: str
    reason: str
    doubtful: bool


def short_reason(sign: Sign, verdict: Verdict | None, choice: Choice) -> str:
    """The reason for a decision in five words at most."""
    if choice.by.startswith(("plan", "--take")):
        return "your decision"
    if choice.by == "file":
        return "the edition asks for it"
    told = _by_harmony(sign, verdict, choice.reading.name)
    return told or _few_words(_of_rule(choice, verdict))


def _by_harmony(sign: Sign, verdict: Verdict | None, reading: str) -> str:
    """What the harmony says, where it is the reason; else empty."""
    if not sign.small or verdict is None or not verdict.members:
        return ""
    if not verdict.known:
        return "no harmony to judge by"
    if reading == "leaning" and verdict.members[0] == MEMBER and verdict.leans[0]:
        return "in a cadential six-four"
    if reading == "leaning" and verdict.members[0] == DISSONANCE:
        interval = verdict.bass_interval.removeprefix("an ").removeprefix("a ")
        return f"dissonant {interval}".strip() + (", resolves" if verdict.resolves_by_step else "")
    return "belongs to the chord" if reading == "before" and verdict.members[0] == MEMBER else ""


def _of_rule(choice: Choice, verdict: Verdict | None) -> str:
    """The rule's own words, without what the harmony says before them."""
    words = verdict.words if verdict is not None else ""
    return choice.reason.replace(f"{words}; ", "", 1) if words else choice.reason


def _few_words(text: str) -> str:
    """The first clause of a text, five words of it at most."""
    words = re.split(r"[;:,(]", text.removeprefix("it "))[0].split()
    kept = words[:_MOST_WORDS]
    while len(words) > _MOST_WORDS and kept[-1] in _OPEN_ENDS:
        kept.pop()
    return " ".join(kept)


def _decision(text: str) -> str:
    """A way of playing without its finer sizes."""
    return re.split(r" (?:taking|beginning|without|dwelling)\b", text)[0].replace("termination", "its end")


def rows_of(player: Interpretation, signs: Sequence[Sign], *, doubtful_first: bool = False) -> list[tuple[Sign, Row]]:
    """The rows of the sheet, in the order of the bars, or first what is doubtful and not decided."""
    rows = [(sign, _row(player, sign)) for sign in signs]
    return sorted(rows, key=lambda row: not row[1].doubtful) if doubtful_first else rows


def _row(player: Interpretation, sign: Sign) -> Row:
    verdict, choice = player.analysis.verdict(sign), player.choices[sign.place]
    known = verdict is not None and verdict.known
    chord = ", ".join(filter(None, (pretty(verdict.label), verdict.roman))) if verdict is not None and known else ""
    doubtful = bool(sign.small) and known and verdict is not None and verdict.doubtful
    decided = not choice.by.startswith("style")
    part, place = sign.place.split(".", 1)
    decision, reason = _decision(choice.reading.text), short_reason(sign, verdict, choice)
    return Row(part, place, chord, decision, reason, doubtful and not decided)


# drawing


def sheet_bytes(
    path: Path, player: Interpretation, rows: Sequence[tuple[Sign, Row]], output: Path
) -> tuple[bytes, int]:
    """The sheet as a file of the kind its name ends in, and its pages.

    Raises `UsageError` for another ending, `ScoreError` where a bar cannot be drawn, `InputError` where the library
    for PDF is missing.
    """
    suffix = output.suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; a sheet ends in .pdf or .html")
    pages = sheet_pages(path, player, rows)
    return (pdf_of(pages) if suffix == ".pdf" else _page(player.score.title, pages).encode()), len(pages)


def _page(title: str, pages: Sequence[str]) -> str:
    style = (
        "@page{size:A4;margin:0}body{margin:0;background:#ddd}svg.sheet{display:block;width:210mm;height:297mm;"
        "margin:5mm auto;background:#fff;break-after:page}@media print{body{background:#fff}svg.sheet{margin:0}}"
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>{html.escape(title)}</title><style>{style}</style></head><body>{''.join(pages)}</body></html>\n"
    )


def sheet_pages(path: Path, player: Interpretation, rows: Sequence[tuple[Sign, Row]]) -> list[str]:
    """The pages as SVG."""
    pictures, shapes = _pictures(path, player, [sign for sign, _ in rows])
    a_column = (_HEIGHT - _TOP - _FOOT) // _ROW
    a_page, parts = _COLUMNS * a_column, len({row.part for _, row in rows}) > 1
    starts = range(0, max(len(rows), 1), a_page)
    made = []
    for number, start in enumerate(starts, 1):
        root = _sheet(shapes)
        _head(root, player, rows, f"{number} of {len(starts)}" if len(starts) > 1 else "")
        for place, (sign, row) in enumerate(rows[start : start + a_page]):
            column, line = divmod(place, a_column)
            width = (_WIDTH - 2 * _EDGE - _GAP) // _COLUMNS
            x, y = _EDGE + column * (width + _GAP), _TOP + line * _ROW
            _draw(root, row, pictures[sign.place], x, y, width, parts=parts)
        made.append(with_shapes(etree.tostring(root, encoding="unicode")))
    return made


def _sheet(shapes: Mapping[str, str]) -> Element:
    root = etree.fromstring(f'<svg xmlns="{SVG[1:-1]}"/>')
    for name, value in (
        ("class", "sheet"), ("width", "210mm"), ("height", "297mm"), ("viewBox", f"0 0 {_WIDTH} {_HEIGHT}"),
        ("font-family", "Times, serif"),
    ):  # fmt: skip
        root.set(name, value)
    defs = etree.SubElement(root, f"{SVG}defs")
    for shape in shapes.values():
        defs.append(etree.fromstring(shape))
    return root


def _head(root: Element, player: Interpretation, rows: Sequence[tuple[Sign, Row]], page: str) -> None:
    _text(root, player.score.title, _EDGE, 150, 58)
    count = f"{len(rows)} ornament{'' if len(rows) == 1 else 's'}"
    doubtful = sum(row.doubtful for _, row in rows)
    doubt = f", {doubtful} doubtful: hear both" if doubtful else ""
    _text(root, f"{player.solo.name}. Style: {player.style.name}. {count}{doubt}.", _EDGE, 212, 34)
    if page:
        _text(root, page, _WIDTH - _EDGE, 150, 34, anchor="end")
    foot = "▢ heard and decided. The mark under a bar shows the note. The teacher, the edition and your ear decide."
    _text(root, foot.removeprefix("▢ "), _EDGE + 40, _HEIGHT - 70, 28, colour="#555555")
    _box(root, _EDGE, _HEIGHT - 92, 26)


def _draw(root: Element, row: Row, picture: Element, x: float, y: float, width: float, *, parts: bool) -> None:
    """One row: box, place, with its part where there are several, the bar, and what is said of it."""
    _box(root, x, y + 26, 34)
    _text(root, row.place, x + 52, y + 56, 34, room=100)
    if parts:
        _text(root, row.part, x + 52, y + 88, 24, room=100, colour="#444444")
    wide, high = (float(picture.get(name) or 1) for name in ("data-width", "data-height"))
    scale = min(_MUSIC_WIDTH / wide, _MUSIC_HEIGHT / high, _SCALE)
    inner = copied(picture)
    down = y + (_MUSIC_HEIGHT - high * scale) / 2
    inner.set("transform", f"translate({x + _MUSIC_X:g}, {down:g}) scale({scale:g})")
    root.append(inner)
    room = width - _TEXT_X
    doubt = "? " if row.doubtful else ""
    _text(root, doubt + row.decision, x + _TEXT_X, y + 44, 32, weight="bold", room=room)
    _text(root, row.chord, x + _TEXT_X, y + 80, 30, room=room)
    _text(root, row.reason, x + _TEXT_X, y + 114, 28, style="italic", room=room, colour="#444444")
    rule = {"x1": f"{x:g}", "x2": f"{x + width:g}", "y1": f"{y + _ROW - 8:g}", "y2": f"{y + _ROW - 8:g}"}
    etree.SubElement(root, f"{SVG}line", {**rule, "stroke": "#bbbbbb", "stroke-width": "1.5"})


def _box(root: Element, x: float, y: float, size: float) -> None:
    place = {"x": f"{x:g}", "y": f"{y:g}", "width": f"{size:g}", "height": f"{size:g}"}
    etree.SubElement(root, f"{SVG}rect", {**place, "fill": "none", "stroke": "#000000", "stroke-width": "2.5"})


def _text(
    root: Element,
    words: str,
    x: float,
    y: float,
    size: float,
    *,
    weight: str = "",
    style: str = "",
    anchor: str = "",
    colour: str = "",
    room: float = 0,
) -> None:
    """Words at a place, smaller where they would not fit in the room they have."""
    if room and (wide := len(words) * size * 0.5) > room:
        size *= max(room / wide, 0.6)
    node = etree.SubElement(root, f"{SVG}text", {"x": f"{x:g}", "y": f"{y:g}", "font-size": f"{size:.4g}"})
    for name, value in (("font-weight", weight), ("font-style", style), ("text-anchor", anchor), ("fill", colour)):
        if value:
            node.set(name, value)
    for letters in re.findall(r"[♭♯]|[^♭♯]+", words):
        signed = letters in _SIGNS
        size_here = f"{size * (_SIGN_SIZE if signed else 1):.4g}"
        etree.SubElement(node, f"{SVG}tspan", {"font-size": size_here}).text = _SIGNS.get(letters, letters)


# the bars


def _pictures(path: Path, player: Interpretation, signs: Sequence[Sign]) -> tuple[dict[str, Element], dict[str, str]]:
    """The bar of each sign as a group of shapes, the sign marked; and the shapes of glyphs by name."""
    root = printed_tree(path, player.solo, player.wishes)
    texts = [_bar(root, player, sign) for sign in signs]
    pictures, shapes = draw_small(texts, [_MARK])
    return {sign.place: _group(text) for sign, text in zip(signs, pictures, strict=True)}, shapes


def _bar(root: Element, player: Interpretation, sign: Sign) -> str:
    """The bar of a sign as a score of its own, its main note named."""
    event = sign.main(player.score)
    part = part_element(root, player.score.parts[sign.part])
    measures = part.findall("measure")
    before = sum(1 for measure in measures[: event.bar] for _ in measure.iterfind("note"))
    made = alone(measures, event.bar, event.bar, "", _LEFT_OUT)
    for time in list(made.iter("time")):
        remove(time)
    notes = made.findall("part/measure/note")
    if 0 <= event.ordinal - before < len(notes):
        notes[event.ordinal - before].set("id", _MARK)
    return etree.tostring(made, encoding="unicode")


def _group(picture: str) -> Element:
    """The drawing of a bar moved to its corner, its size told, a small mark under the sign."""
    root = etree.fromstring(picture.encode())
    inner = next(node for node in root.iter(f"{SVG}svg") if node is not root)
    left, right = _extent(inner)
    height = float((inner.get("viewBox") or "0 0 1 1").split()[3]) + _MARK_HEIGHT
    group = etree.Element(f"{SVG}g", {"class": "bar", "data-width": f"{right - left:g}", "data-height": f"{height:g}"})
    moved = etree.SubElement(group, f"{SVG}g", {"transform": f"translate({-left:g}, 0)"})
    at = next((node for node in inner.iter(f"{SVG}g") if node.get("id") == _MARK), None)
    use = next(at.iter(f"{SVG}use"), None) if at is not None else None
    moved.extend([copied(child) for child in inner if child.tag == f"{SVG}g"])
    for node in moved.iter():
        node.attrib.pop("id", "")
        if node.tag in _STROKED:
            node.set("stroke", "#000000")
    if use is not None and (place := _PLACE.search(use.get("transform") or "")):
        # under all that is drawn, in the coordinates of the page's own margin
        margin = next(child for child in moved if child.tag == f"{SVG}g")
        top = _PLACE.search(margin.get("transform") or "")
        x, y = float(place.group(1)) + 110, height - _MARK_HEIGHT - (float(top.group(2)) if top else 0) + 80
        mark = {"d": f"M{x:g} {y:g} l-120 210 h240 z", "fill": "#000000"}
        etree.SubElement(margin, f"{SVG}path", mark)
    return group


_MARK_HEIGHT = 320
_STROKED = {f"{SVG}{tag}" for tag in ("path", "polygon", "polyline", "rect", "ellipse")}
_PLACE = re.compile(r"translate\((-?[\d.]+),? (-?[\d.]+)\)")
_LINE = re.compile(r"M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+) (-?[\d.]+)")


def _lines(inner: Element) -> Iterator[tuple[float, float, float]]:
    """Staff lines: where each begins and ends, and its height."""
    for staff in (node for node in inner.iter(f"{SVG}g") if "staff" in (node.get("class") or "").split()):
        for path in staff.iterfind(f"{SVG}path"):
            if (found := _LINE.match(path.get("d") or "")) and found.group(2) == found.group(4):
                yield float(found.group(1)), float(found.group(3)), float(found.group(2))


def _extent(inner: Element) -> tuple[float, float]:
    found = list(_lines(inner))
    return min((x for x, _, _ in found), default=0.0), max((x for _, x, _ in found), default=1.0)
