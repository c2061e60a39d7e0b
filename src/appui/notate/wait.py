"""Bars made longer for what is played free of them: the other parts keep what they have and wait.

The player's notes over a fermata are written with their own values, so their bar holds more than its meter. In every
other part the same time is put in after the held note, empty, and the fermata gives way to the words ``colla parte``:
with the fermata, whoever plays the file would wait twice.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import lcm
from typing import Any

from lxml import etree

from appui.errors import ScoreError
from appui.exact import Fraction, fraction_of
from appui.musicxml.read.numbers import MAX_DIVISIONS, Where, decimal

__all__ = ["let_wait", "refine", "scale"]

Element = Any  # lxml ships no types of its own
WORDS = "colla parte"


def refine(part: Element, denominator: int, file: str) -> int:
    """Give a part divisions, the same throughout, that its durations and those with a denominator are whole in.

    Raises `ScoreError` where our own reader would refuse so many.
    """
    found = [fraction_of(node.text or "1") for node in part.iter("divisions")] or [Fraction(1)]
    whole = lcm(*(int(each) for each in found if each.denominator == 1), denominator)
    if whole > MAX_DIVISIONS:
        raise ScoreError(file, f"written out, it would need {whole:,} divisions of a quarter", "export it with fewer")
    if next(iter(part), None) is not None and not list(part.iter("divisions")):
        attributes = etree.Element("attributes")
        etree.SubElement(attributes, "divisions").text = "1"
        part.find("measure").insert(0, attributes)
    now = Fraction(1)
    for measure in part.iterfind("measure"):
        for child in measure:
            if not isinstance(child.tag, str):
                continue
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


def let_wait(part: Element, bar: int, at_q: Fraction, extra_q: Fraction, file: str, *, plain: bool = False) -> None:
    """Put `extra_q` quarter notes into a bar of a part, by index, at a moment of the bar; voices that end there wait.

    A note that sounds across the moment is made longer: there is no value for that, only a duration. `plain` is the
    solo itself, beside its written-out line: it keeps its fermata, and nobody is to follow it.
    """
    measures = part.findall("measure")
    if bar >= len(measures):
        return
    divisions = refine(part, lcm(at_q.denominator, extra_q.denominator), file)
    measure = measures[bar]
    _stretch(measure, divisions, at_q, extra_q)
    if plain:
        return
    before = [node for start, end, node in _timed(measure, divisions) if start < at_q <= end]
    for fermata in [each for node in before for each in node.iterfind("notations/fermata")]:
        _remove(fermata)
    words = etree.fromstring(
        f'<direction placement="above"><direction-type><words font-style="italic">{WORDS}</words></direction-type>'
        "</direction>"
    )
    measure.insert(next((i for i, child in enumerate(measure) if child.tag == "note"), len(measure)), words)


def _timed(measure: Element, divisions: int) -> Iterator[tuple[Fraction, Fraction, Element]]:
    """Everything that takes time, with the moments it begins and ends at; a backup ends before it begins."""
    now_q = start_q = Fraction(0)
    for child in measure:
        length_q = Fraction(int(child.findtext("duration") or 0), divisions) if child.tag in _TIMED else Fraction(0)
        if child.tag == "note" and child.find("chord") is not None:
            yield start_q, start_q + length_q, child
        elif child.tag in _TIMED and child.find("grace") is None:
            start_q, now_q = now_q, now_q + (-length_q if child.tag == "backup" else length_q)
            yield start_q, now_q, child


_TIMED = ("note", "backup", "forward")


def _stretch(measure: Element, divisions: int, at_q: Fraction, extra_q: Fraction) -> None:
    extra = int(extra_q * divisions)
    last: dict[Fraction, Element] = {}
    for start_q, end_q, node in list(_timed(measure, divisions)):
        if node.tag == "backup":
            # what begins after the moment has moved, what begins before it has not
            if start_q >= at_q > end_q:
                _lengthen(node, extra)
        elif start_q < at_q < end_q or (node.tag == "forward" and start_q < at_q == end_q):
            _lengthen(node, extra)
        elif start_q < at_q == end_q:
            if node.find("chord") is None:
                gap = etree.Element("forward")
                etree.SubElement(gap, "duration").text = str(extra)
                node.addnext(gap)
                last[end_q] = gap
            else:
                # the gap comes after the whole chord
                node.addnext(last[end_q])


def _lengthen(node: Element, extra: int) -> None:
    duration = node.find("duration")
    duration.text = str(int(duration.text) + extra)


def _remove(fermata: Element) -> None:
    notations = fermata.getparent()
    notations.remove(fermata)
    if not len(notations):
        notations.getparent().remove(notations)
