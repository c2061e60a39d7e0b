"""The numbers of bars in a picture, lifted off notes, slurs and words.

The engraver puts a number over the top staff at its barline, whatever is drawn there. Everything drawn is taken here as
points close enough together that a number cannot slip between them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

__all__ = ["lift_numbers"]

SVG = "{http://www.w3.org/2000/svg}"
_PLACE = re.compile(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)")
_STEP = re.compile(r"([MLC])([^MLCZ]*)")
_FIGURE = re.compile(r"-?[\d.]+")
#  a figure's width and height, where a number begins, in the engraver's units; the air around it
_WIDE, _HIGH, _LEFT, _UP, _AIR = 165, 230, 130, 170, 60
#  half a notehead, an accidental and a flag stand so far from where a glyph is placed
_GLYPH_WIDE, _GLYPH_HIGH = 210, 130
_POINTS = 12
Point = tuple[float, float]


def lift_numbers(margin: Any) -> float:
    """Put every number of a bar where nothing else is drawn; returns the height of the highest one's top."""
    numbers = [node for node in margin.iter(f"{SVG}g") if "mNum" in (node.get("class") or "").split()]
    texts = [text for node in numbers for text in node.iter(f"{SVG}text") if text.get("x")]
    if not texts:
        return 0.0
    drawn = list(_points(margin, max(float(text.get("y")) for text in texts)))
    return min(_lift(text, drawn) for text in texts)


def _lift(text: Any, drawn: list[Point]) -> float:
    x, y = float(text.get("x")) - _LEFT, float(text.get("y")) - _UP
    half = len("".join(text.itertext()).strip()) * _WIDE / 2 + _AIR
    near = sorted((py for px, py in drawn if abs(px - x) < half), reverse=True)
    for py in near:
        # from below: what reaches into the number lifts it over itself
        if y - _HIGH - _AIR < py < y + _AIR:
            y = py - _AIR
    text.set("x", f"{x:g}")
    text.set("y", f"{y:g}")
    return y - _HIGH


def _points(margin: Any, lowest: float) -> Iterator[Point]:
    """Points of all that is drawn, as far as it reaches above a height: most of a score is below its top staff."""
    for node in margin.iter(f"{SVG}use", f"{SVG}path", f"{SVG}polygon", f"{SVG}polyline", f"{SVG}text"):
        if _top(node) > lowest or node.getparent().get("class") == "staff":
            continue
        kinds = {kind for each in node.iterancestors(f"{SVG}g") for kind in (each.get("class") or "").split()}
        if not kinds & {"mNum", "barLine"}:
            yield from _of(node)


def _top(node: Any) -> float:
    """A height that an element does not reach above."""
    if node.tag == f"{SVG}use":
        place = _PLACE.search(node.get("transform") or "")
        return float(place.group(2)) - _GLYPH_HIGH if place else math.inf
    if node.tag == f"{SVG}text":
        return float(node.get("y") or math.inf) - _HIGH
    figures = _FIGURE.findall(node.get("d") or node.get("points") or "")
    return min(map(float, figures[1::2]), default=math.inf)


def _of(node: Any) -> Iterator[Point]:
    """Points of what one element draws."""
    if node.tag == f"{SVG}use":
        place = _PLACE.search(node.get("transform") or "")
        if place:
            x, y = map(float, place.groups())
            yield from ((x + dx, y + dy) for dx in (0, _GLYPH_WIDE) for dy in (-_GLYPH_HIGH, 0, _GLYPH_HIGH))
    elif node.tag == f"{SVG}path":
        yield from _of_path(node.get("d") or "")
    elif node.tag == f"{SVG}text":
        x, y = float(node.get("x") or 0), float(node.get("y") or 0)
        letters = len("".join(node.itertext()))
        yield from ((x + number * _WIDE / 2, y - dy) for number in range(2 * letters) for dy in (0, _HIGH))
    else:
        figures = [float(each) for each in _FIGURE.findall(node.get("points") or "")]
        corners = list(zip(figures[::2], figures[1::2], strict=False))
        for one, other in pairwise(corners):
            yield from _between(one, one, other, other)


def _of_path(drawing: str) -> Iterator[Point]:
    at = (0.0, 0.0)
    for kind, rest in _STEP.findall(drawing):
        figures = [float(each) for each in _FIGURE.findall(rest)]
        corners = list(zip(figures[::2], figures[1::2], strict=False))
        if kind == "C" and len(corners) == 3:
            yield from _between(at, *corners)
        elif kind == "L" and corners:
            yield from _between(at, at, corners[0], corners[0])
        at = corners[-1] if corners else at


def _between(one: Point, first: Point, second: Point, other: Point) -> Iterator[Point]:
    """Points of a curve with two points that pull it (a cubic Bézier curve)."""
    for number in range(_POINTS + 1):
        t = number / _POINTS
        shares = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        points = (one, first, second, other)
        yield (
            sum(share * point[0] for share, point in zip(shares, points, strict=True)),
            sum(share * point[1] for share, point in zip(shares, points, strict=True)),
        )
