"""Lettering on an engraved system: verdict words in rows over it, the harmony in rows under it, under the beat.

Words stand above everything drawn, each with a thin line down to its sign; where two would touch, the later one goes
a row further out. The picture grows by the rows that are needed, so nothing printed by the engraver is moved or hidden.

Lengths are in the engraver's drawing units: a staff is 720 high. Widths of words are reckoned from the number of
letters, generously, since the browser's font is not known.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lxml import etree

__all__ = ["Label", "letter"]

SVG = "{http://www.w3.org/2000/svg}"
_EM = 0.52  # mean width of a letter, in its size
_APART = 160
_LINE = 1.18
_HEAD = 110  # half a notehead
_PLACE = re.compile(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)")
_BOX = re.compile(r"0 0 ([\d.]+) ([\d.]+)")


@dataclass(frozen=True, slots=True)
class Label:
    """What is printed at one sign: `word` over it (none where it is empty), `rows` under the system.

    `key` names the word's group in the picture. `word_at` and `rows_at` are names of drawn elements, the first one
    that is in the picture counts.
    """

    key: str
    word: str
    word_at: tuple[str, ...]
    rows: tuple[str, ...]
    rows_at: str


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines of text centred on `x`; `down` is where the line to the sign ends, `None` for no line."""

    key: str
    lines: tuple[str, ...]
    x: float
    down: float | None = None


def letter(root: Any, labels: Sequence[Label], size: int) -> None:
    """Add the labels whose signs are in this picture, in letters of a size."""
    if not labels:
        return
    inner = root.find(f"{SVG}svg")
    margin = inner.find(f"{SVG}g")
    places = {node.get("id"): node for node in margin.iter(f"{SVG}g") if node.get("id")}
    words, rows = _words(labels, places), _rows(labels, places)
    width, height = map(float, _BOX.match(inner.get("viewBox")).groups())  # type: ignore[union-attr]
    top = _at(margin)[1]
    over = _levels(words, size)
    above = (max(over, default=-1) + 1) * size * _LINE
    for block, level in zip(words, over, strict=True):
        _draw(margin, block, "word", -top - level * size * _LINE - size * 0.3, size)
    under, line = _levels(rows, size), size * _LINE
    depth = max((len(block.lines) for block in rows), default=0) * line
    for block, level in zip(rows, under, strict=True):
        _draw(margin, block, "harmony", height - top + size * 0.8 + level * (depth + size * 0.3), size)
    below = (max(under) + 1) * (depth + size * 0.3) if under else 0
    total = height + above + below
    inner.set("viewBox", f"0 {-above:g} {width:g} {total:g}")
    root.set("viewBox", f"0 0 {width / 10:g} {total / 10:g}")


def _words(labels: Sequence[Label], places: dict[str, Any]) -> list[_Block]:
    blocks = []
    for label in labels:
        node = next((places[name] for name in label.word_at if name in places), None)
        if label.word and node is not None and (found := _drawn_at(node)) is not None:
            blocks.append(_Block(label.key, (label.word,), found[0] + _HEAD, found[1]))
    return sorted(blocks, key=lambda block: block.x)


def _rows(labels: Sequence[Label], places: dict[str, Any]) -> list[_Block]:
    """The harmony; at one note the same is printed once."""
    found: dict[tuple[str, tuple[str, ...]], _Block] = {}
    for label in labels:
        node = places.get(label.rows_at)
        at = _drawn_at(node) if node is not None else None
        if at is not None and label.rows:
            found.setdefault((label.rows_at, label.rows), _Block("", label.rows, at[0] + _HEAD))
    return sorted(found.values(), key=lambda block: block.x)


def _levels(blocks: Sequence[_Block], size: int) -> list[int]:
    """For each block, from left to right, the first row in which it touches no other."""
    ends: list[float] = []
    levels = []
    for block in blocks:
        half = max(len(line) for line in block.lines) * size * _EM / 2
        level = next((i for i, end in enumerate(ends) if end + _APART <= block.x - half), len(ends))
        ends[level:] = [block.x + half, *ends[level + 1 :]]
        levels.append(level)
    return levels


def _at(node: Any) -> tuple[float, float]:
    found = _PLACE.search(node.get("transform") or "")
    return (float(found.group(1)), float(found.group(2))) if found else (0.0, 0.0)


def _drawn_at(node: Any) -> tuple[float, float] | None:
    """Where the first glyph of an element is drawn, and how high it reaches: stems and flags of small notes too."""
    glyphs = [_at(use) for use in node.iter(f"{SVG}use")]
    if not glyphs:
        return None
    tops = [float(y) for path in node.iter(f"{SVG}path") for y in re.findall(r"[ML]-?[\d.]+ (-?[\d.]+)", path.get("d"))]
    return glyphs[0][0], min([y for _, y in glyphs] + tops)


def _draw(margin: Any, block: _Block, kind: str, y: float, size: int) -> None:
    group = etree.SubElement(margin, f"{SVG}g", {"class": kind})
    if block.key:
        group.set("id", block.key)
    if block.down is not None:
        line = {"x1": f"{block.x:g}", "x2": f"{block.x:g}", "y1": f"{y + size * 0.25:g}", "y2": f"{block.down - 150:g}"}
        etree.SubElement(group, f"{SVG}line", {**line, "class": "leader"})
    for number, words in enumerate(block.lines):
        place = {"x": f"{block.x:g}", "y": f"{y + number * size * _LINE:g}"}
        text = etree.SubElement(group, f"{SVG}text", {**place, "text-anchor": "middle", "font-size": f"{size}px"})
        text.text = words
