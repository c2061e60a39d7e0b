"""Lettering on an engraved system: verdict words in rows over it, the harmony in rows under it, under the beat.

Words stand above everything drawn, each with a thin line down to its sign; where two would touch, one is moved aside or
stands a row further out, so that no line goes through a word. The picture grows by the rows that are needed, so nothing
printed by the engraver is moved or hidden, but the numbers of bars: those are lifted off notes, slurs and words.

Lengths are in the engraver's drawing units: a staff is 720 high. Widths of words are reckoned from the number of
letters, generously, since the browser's font is not known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from lxml import etree

from appui.page.numbers import lift_numbers

__all__ = ["Label", "letter"]

SVG = "{http://www.w3.org/2000/svg}"
_EM = 0.52  # mean width of a letter, in its size
_APART = 160
#  rows of words; how many ways to place them are followed, how many words back are looked at, what a fault costs
_ROWS, _FOLLOWED, _NEAR, _BAD = 5, 100, 8, 10.0
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
    """Lines of text at `x`; `down` is where the line to the sign ends, `None` for no line."""

    key: str
    lines: tuple[str, ...]
    x: float
    down: float | None = None

    def half(self, size: int) -> float:
        """Half the width."""
        return max(len(line) for line in self.lines) * size * _EM / 2


class _Spot(NamedTuple):
    """Where a word stands: its row from below, its middle, half its width, where its line goes down."""

    level: int
    middle: float
    half: float
    x: float


def letter(root: Any, labels: Sequence[Label], size: int) -> None:
    """Add the labels whose signs are in this picture, in letters of a size, and lift the numbers of bars.

    Without a size the picture is left as it is.
    """
    if not size:
        return
    inner = root.find(f"{SVG}svg")
    margin = inner.find(f"{SVG}g")
    top = _at(margin)[1]
    ceiling = min(-top, lift_numbers(margin) - size * 0.2)
    places = {node.get("id"): node for node in margin.iter(f"{SVG}g") if node.get("id")}
    words, rows = _words(labels, places), _rows(labels, places)
    width, height = map(float, _BOX.match(inner.get("viewBox")).groups())  # type: ignore[union-attr]
    over = _laid_out(words, size, width)
    above = (max((spot.level for spot in over), default=-1) + 1) * size * _LINE - top - ceiling
    for block, spot in zip(words, over, strict=True):
        _draw(margin, block, "word", ceiling - spot.level * size * _LINE - size * 0.3, size, spot.middle)
    under, line = _levels(rows, size), size * _LINE
    depth = max((len(block.lines) for block in rows), default=0) * line
    for block, level in zip(rows, under, strict=True):
        _draw(margin, block, "harmony", height - top + size * 0.8 + level * (depth + size * 0.3), size, block.x)
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
    """The harmony; within a bar it is printed again only when it has changed."""
    found: list[tuple[float, Any, _Block]] = []
    for label in labels:
        node = places.get(label.rows_at)
        at = _drawn_at(node) if node is not None else None
        if at is not None and label.rows:
            found.append((at[0], _bar_of(node), _Block("", label.rows, at[0] + _HEAD)))
    found.sort(key=lambda each: each[0])
    before = [(None, ()), *((bar, block.lines) for _, bar, block in found)]
    return [block for (_, bar, block), last in zip(found, before, strict=False) if (bar, block.lines) != last]


def _bar_of(node: Any) -> Any:
    """The drawn bar an element stands in."""
    return next((each for each in node.iterancestors() if "measure" in (each.get("class") or "").split()), None)


def _laid_out(blocks: Sequence[_Block], size: int, width: float) -> list[_Spot]:
    """A place for each word, from left to right: the best of many ways, a few of which are followed at a time."""
    ways: list[tuple[float, tuple[_Spot, ...]]] = [(0.0, ())]
    for block in blocks:
        spots = [(cost, spot) for cost, spot in _spots(block, size) if spot.middle >= spot.half or not spot.level]
        longer = [
            (
                sum_ + cost + _crowded(laid[-_NEAR:], spot) + _BAD * (spot.middle + spot.half > width - _APART),
                (*laid, spot),
            )
            for sum_, laid in ways
            for cost, spot in spots
        ]
        ways = sorted(longer, key=lambda way: way[0])[:_FOLLOWED]
    return list(ways[0][1])


def _spots(block: _Block, size: int) -> Iterator[tuple[float, _Spot]]:
    """Where a word may stand, with what that costs: over its sign, or moved to one side of its line."""
    half = block.half(size)
    aside = half + _APART / 4
    for level in range(_ROWS):
        for cost, middle in ((0.0, block.x), (0.4, block.x + aside), (0.4, block.x - aside)):
            yield level + cost, _Spot(level, middle, half, block.x)


def _crowded(laid: Sequence[_Spot], spot: _Spot) -> float:
    """What it costs that words touch, and a third of it that the line of one goes through another."""
    lines = sum(_crosses(other, spot) or _crosses(spot, other) for other in laid)
    return _BAD * lines + 3 * _BAD * sum(_touch(other, spot) for other in laid)


def _touch(one: _Spot, other: _Spot) -> bool:
    return one.level == other.level and abs(one.middle - other.middle) < one.half + other.half + _APART


def _crosses(high: _Spot, low: _Spot) -> bool:
    """Whether the line of the word above goes through the word below."""
    return high.level > low.level and abs(high.x - low.middle) < low.half + _APART / 4 - 1


def _levels(blocks: Sequence[_Block], size: int) -> list[int]:
    """For each block, from left to right, the first row in which it touches no other."""
    ends: list[float] = []
    levels = []
    for block in blocks:
        half = block.half(size)
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


def _draw(margin: Any, block: _Block, kind: str, y: float, size: int, middle: float) -> None:
    group = etree.SubElement(margin, f"{SVG}g", {"class": kind})
    if block.key:
        group.set("id", block.key)
    if block.down is not None:
        line = {"x1": f"{block.x:g}", "x2": f"{block.x:g}", "y1": f"{y + size * 0.25:g}", "y2": f"{block.down - 150:g}"}
        etree.SubElement(group, f"{SVG}line", {**line, "class": "leader"})
    for number, words in enumerate(block.lines):
        place = {"x": f"{middle:g}", "y": f"{y + number * size * _LINE:g}"}
        text = etree.SubElement(group, f"{SVG}text", {**place, "text-anchor": "middle", "font-size": f"{size}px"})
        text.text = words
