"""Time in a part's tree: where each element of a bar stands, and finer divisions for all of a part.

Conventions
    A moment of a bar is in quarter notes from its start, exact. A chord note has the moments of the first note of its
    chord, a small note no length; a backup ends before it begins.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import lcm
from typing import NamedTuple

from appui.errors import ScoreError
from appui.exact import Fraction, fraction_of
from appui.musicxml.element import Element
from appui.musicxml.read.numbers import MAX_DIVISIONS, Where, decimal
from appui.musicxml.write.build import children, new, put

__all__ = ["Placed", "attributes_of", "placed", "refine", "scale"]

_TIMED = ("note", "backup", "forward")


class Placed(NamedTuple):
    """An element that takes time, or a small note, and the moments it begins and ends at."""

    start_q: Fraction
    end_q: Fraction
    node: Element


def placed(measure: Element, divisions: int) -> Iterator[Placed]:
    """The notes, backups and forwards of a bar with their moments."""
    start_q = now_q = Fraction(0)
    for child in children(measure):
        if child.tag not in _TIMED:
            continue
        length_q = fraction_of(child.findtext("duration") or "0") / divisions
        if child.tag == "note" and child.find("chord") is not None:
            yield Placed(start_q, start_q + length_q, child)
            continue
        start_q, now_q = now_q, now_q + (-length_q if child.tag == "backup" else length_q)
        yield Placed(start_q, now_q, child)


def attributes_of(measure: Element) -> Element:
    """The attributes a bar begins with, made where it has none: after its layout, before all else."""
    for child in children(measure):
        if child.tag == "attributes":
            return child
        if child.tag in _TIMED:
            break
    found = new("attributes")
    measure.insert(1 if len(measure) and measure[0].tag == "print" else 0, found)
    return found


def refine(part: Element, denominator: int, file: str) -> int:
    """Give a part divisions, the same throughout, that its durations and those with a denominator are whole in.

    Raises `ScoreError`, naming the file, where our own reader would refuse so many.
    """
    found = [fraction_of(node.text or "1") for node in part.iter("divisions")]
    whole = lcm(*(int(each) for each in found if each.denominator == 1), denominator)
    if whole > MAX_DIVISIONS:
        raise ScoreError(file, f"written out, it would need {whole:,} divisions of a quarter", "export it with fewer")
    first = part.find("measure")
    if not found and first is not None:
        put(attributes_of(first), new("divisions", 1))
    now = Fraction(1)
    for child in (child for measure in part.iterfind("measure") for child in children(measure)):
        node = child.find("divisions") if child.tag == "attributes" else None
        if node is not None:
            now = fraction_of(node.text or "1")
            node.text = str(whole)
        if whole != now:
            scale(child, Fraction(whole) / now)
    return whole


def scale(child: Element, factor: Fraction) -> None:
    """Multiply the durations of an element, as divisions grow finer."""
    for node in child.iter("duration", "offset"):
        if (value := _read(node.text)) is not None:
            node.text = _number(value * factor)
    for name in ("attack", "release"):
        if (value := _read(child.get(name))) is not None:
            child.set(name, _number(value * factor))


def _read(text: str | None) -> Fraction | None:
    """A number of the file; what is none stays as it stands, since what matters the reader has refused already."""
    try:
        return decimal(text, "number", Where(""), None, -(10**12), 10**12)
    except ScoreError:
        return None


def _number(value: Fraction) -> str:
    return str(int(value)) if value.denominator == 1 else f"{float(value):.6f}"
