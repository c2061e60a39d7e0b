"""Bars made longer for what is played free of them: the other parts keep what they have and wait.

The player's notes over a fermata are written with their own values, so their bar holds more than its meter. In every
other part the same time is put in after the held note, empty, and the fermata gives way to the words ``colla parte``:
with the fermata, whoever plays the file would wait twice.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import lcm

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, needed, new, remove
from appui.musicxml.write.direction import words
from appui.musicxml.write.time import Placed, placed, refine

__all__ = ["WORDS", "let_wait"]

WORDS = "colla parte"


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
    before = [one.node for one in _timed(measure, divisions) if one.start_q < at_q <= one.end_q]
    for fermata in [each for node in before for each in node.iterfind("notations/fermata")]:
        _remove(fermata)
    place = next((index for index, child in enumerate(measure) if child.tag == "note"), len(measure))
    measure.insert(place, words(WORDS, "above", font_style="italic"))


def _timed(measure: Element, divisions: int) -> Iterator[Placed]:
    """Everything that takes time: small notes do not."""
    return (one for one in placed(measure, divisions) if one.node.find("grace") is None)


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
                gap = last[end_q] = new("forward")
                add(gap, "duration", extra)
                node.addnext(gap)
            else:
                # the gap comes after the whole chord
                node.addnext(last[end_q])


def _lengthen(node: Element, extra: int) -> None:
    duration = needed(node, "duration")
    duration.text = str(int(duration.text or 0) + extra)


def _remove(fermata: Element) -> None:
    notations = fermata.getparent()
    remove(fermata)
    if notations is not None and not len(notations):
        remove(notations)
