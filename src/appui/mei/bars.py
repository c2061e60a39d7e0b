"""What one bar of MEI says of itself: whether it is whole, its number, its bars of rest, its tuplets, its passes."""

from __future__ import annotations

import re

from appui.exact import Fraction
from appui.mei.names import Element, refs
from appui.mei.values import ratio_of
from appui.musicxml.read.numbers import Where, integer
from appui.score.raw import RawBar

__all__ = ["is_short", "bars_of_rest", "completes", "next_number", "passes_in", "tuplets_in"]

_MAX_RESTS = 1_000


def is_short(bars: list[RawBar]) -> bool:
    """Whether the notes of a bar, one of each part, do not fill it."""
    content_q, meter = max(bar.content_q for bar in bars), bars[0].meter
    return meter is not None and 0 < content_q < meter.bar_q


def completes(before: list[RawBar], bars: list[RawBar]) -> bool:
    """Whether two bars, cut short by a barline between them, are one: not so after a pickup."""
    meter = bars[0].meter
    together_q = max(bar.content_q for bar in before) + max(bar.content_q for bar in bars)
    return (
        meter is not None
        and not before[0].implicit
        and is_short(before)
        and is_short(bars)
        and together_q <= meter.bar_q
    )


def tuplets_in(node: Element, where: Where) -> dict[str, tuple[Fraction, str]]:
    """The tuplets of a bar that are marked from note to note: ratio and last note, by the first one."""
    found = {}
    for span in node.iterfind("tupletSpan"):
        listed = refs(span, "plist")
        start = next(iter(refs(span, "startid") or listed), "")
        end = next(iter(refs(span, "endid") or listed[-1:]), "")
        if start and end:
            found[start] = ratio_of(span, where), end
    return found


def bars_of_rest(node: Element, where: Where) -> int:
    """How many bars a bar stands for."""
    numbers = [
        integer(rest.get("num") or "1", "num", where, rest.sourceline, 1, _MAX_RESTS) for rest in node.iter("multiRest")
    ]
    return max(numbers, default=1)


def next_number(number: str) -> str:
    """The number after a number; letters after it are dropped."""
    match = re.match(r"\d{1,9}", number)
    return str(int(match[0]) + 1) if match else "1"


def passes_in(text: str) -> tuple[int, ...]:
    """The passes an ending is for: ``1``, ``1, 2``, ``1-3``."""
    found: list[int] = []
    for first, last in re.findall(r"(\d{1,2})(?:\s*[-\u2013]\s*(\d{1,2}))?", text)[:20]:
        found += range(int(first), max(int(last or first), int(first)) + 1)
    return tuple(number for number in dict.fromkeys(found) if number > 0) or (1,)
