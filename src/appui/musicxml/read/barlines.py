"""What a barline says: repeats, endings, the end of a movement, a fermata over it, segno and coda."""

from __future__ import annotations

import re
from collections.abc import Callable

from appui.musicxml.read.note import Element
from appui.musicxml.read.numbers import Where, integer
from appui.score.model import Ending
from appui.score.raw import RawBar

__all__ = ["read_barline"]

_MOST_ENDINGS, _BEYOND_PASSES = 20, 100


def read_barline(node: Element, bar: RawBar, where: Where, road_sign: Callable[[str], None]) -> None:
    """Note in a bar what its barline says; `road_sign` takes ``segno`` and ``coda``. Raises `ScoreError`."""
    for child in node:
        if child.tag == "repeat":
            _read_repeat(child, bar, where)
        elif child.tag == "bar-style":
            bar.final = (child.text or "").strip() == "light-heavy" and node.find("repeat") is None
        elif child.tag == "ending":
            _read_ending(child, bar)
        elif child.tag == "fermata" and node.get("location", "right") == "right":
            bar.fermata_at_end = True
        elif child.tag in ("segno", "coda"):
            road_sign(child.tag)


def _read_repeat(node: Element, bar: RawBar, where: Where) -> None:
    if node.get("direction") == "forward":
        bar.repeat_forward = True
    else:
        bar.repeat_backward = integer(node.get("times", "2"), "times", where, node.sourceline, 1, 100)


def _read_ending(node: Element, bar: RawBar) -> None:
    if node.get("type") == "start":
        found = re.findall(r"\d+", node.get("number", ""))[:_MOST_ENDINGS]
        passes = tuple(number for number in map(int, found) if 0 < number < _BEYOND_PASSES)
        bar.ending_starts.append(Ending(passes or (1,)))
    else:
        bar.ending_stops = True
