"""Bars of rest gathered under one number, as in a part: where nothing happens but counting.

A group ends where a player has to see something: another key, meter or clef, words, a tempo, a repeat, an ending, a
double bar, a hold. The bars stay in the file, each with its rest; the first says how many are drawn as one
(`multiple-rest`, MusicXML 4.0, read).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, children, new, put
from appui.musicxml.write.time import attributes_of, placed

__all__ = ["drawn_bars", "gather", "is_empty", "one_rest", "rest_groups"]

_SHOWN = ("key", "time", "clef")


def is_empty(measure: Element) -> bool:
    """Whether nothing sounds in a bar and nothing hangs on its rests."""
    rests = all(
        note.find("rest") is not None and note.find("notations/fermata") is None for note in measure.iterfind("note")
    )
    return rests and measure.find("barline/fermata") is None


def rest_groups(measures: Sequence[Element]) -> Iterator[tuple[int, int]]:
    """First and last index of every group of empty bars that a player counts as one, single ones too."""
    first: int | None = None
    for index, measure in enumerate(measures):
        if first is not None and (not is_empty(measure) or _opens(measure) or _closes(measures[index - 1])):
            yield first, index - 1
            first = None
        if first is None and is_empty(measure):
            first = index
    if first is not None:
        yield first, len(measures) - 1


def _opens(measure: Element) -> bool:
    """Whether something stands at the beginning of a bar, or over it, that must be seen."""
    shown = any(attributes.find(tag) is not None for attributes in measure.iterfind("attributes") for tag in _SHOWN)
    lines = any(line.get("location") == "left" for line in measure.iterfind("barline"))
    return shown or lines or measure.find("direction") is not None or measure.find("harmony") is not None


def _closes(measure: Element) -> bool:
    return any(line.get("location", "right") == "right" for line in measure.iterfind("barline"))


def gather(part: Element) -> None:
    """Gather the empty bars of a part on one staff; a bar of several rests, or of none, gets one."""
    if any(int(staves.text or 1) > 1 for staves in part.iter("staves")):
        return
    measures = part.findall("measure")
    for first, last in rest_groups(measures):
        for measure in measures[first : last + 1]:
            one_rest(measure)
        if last > first:
            style = put(attributes_of(measures[first]), new("measure-style"))
            add(style, "multiple-rest", last - first + 1)


def one_rest(measure: Element) -> None:
    """Make the rests of an empty bar, or the time that is passed over in it, one rest for the whole of it."""
    if not is_empty(measure):
        return
    timed = [child for child in children(measure) if child.tag in ("note", "backup", "forward")]
    voice = next((found for node in timed if (found := node.findtext("voice"))), None)
    lasting = max((one.end_q for one in placed(measure, 1)), default=Fraction(0))
    if not timed or lasting.denominator != 1 or not lasting:
        return
    rest = new("note")
    add(rest, "rest", measure="yes")
    add(rest, "duration", lasting)
    if voice:
        add(rest, "voice", voice)
    timed[0].addprevious(rest)
    for child in timed:
        measure.remove(child)


def drawn_bars(measures: Sequence[Element]) -> list[int]:
    """The bars that are drawn, by index: of gathered ones the first."""
    drawn, index = [], 0
    while index < len(measures):
        drawn.append(index)
        count = measures[index].findtext("attributes/measure-style/multiple-rest")
        index += int(count or 1)
    return drawn
