"""Readings written out: a short staff for each, of the sign's bar, and one of the bar as printed.

What is played in a bar is written by `appui.notate` for a whole part at once; here all but the sign stays as printed.
So that a long score costs little more than a short one, many signs are written out in one go: those far enough apart
not to be seen in each other's bars. A staff begins with the bar before where the sign stands on its first beat and a
reading takes time from that bar.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from itertools import accumulate
from pathlib import Path

from lxml import etree

from appui.interpret.interpretation import Interpretation
from appui.interpret.printed import printed_tree
from appui.musicxml.element import Element
from appui.musicxml.write.cut import alone
from appui.musicxml.write.partwise import part_element
from appui.notate.line import line_of, written_line
from appui.notate.tree import rewrite
from appui.page.engrave import draw_small
from appui.page.shorthand import CHANGED, mark_changes, may_be_short, shortened

__all__ = ["PRINTED", "Staves", "written_staves"]

#  in place of a reading's words: the bar as it is printed
PRINTED = ""
_LEFT_OUT = ("direction", "harmony", "figured-bass", "sound", "print", "listening")
_NAMES = [f"{CHANGED}{number}" for number in range(200)]
_CHANGED_NOTE = re.compile(rf'id="{CHANGED}\d+" class="note"')
_FAR = 3  # bars between signs that are written out together


@dataclass(frozen=True, slots=True)
class Staves:
    """The pictures by place and reading (or `PRINTED`), and the shapes of glyphs they share by name.

    `short` are those that have a shorthand beside their exact notes; what differs from the print is marked in both.
    """

    pictures: Mapping[tuple[str, str], str]
    shapes: Mapping[str, str]
    short: Mapping[tuple[str, str], str] = field(default_factory=dict)


def written_staves(
    interpretation: Interpretation, file: Path, readings: Mapping[str, Sequence[str]], say: Callable[[str], None]
) -> Staves:
    """Staves for the readings, in words, of some places; raises `ScoreError` as reading the file does."""
    root = printed_tree(file, interpretation.solo, interpretation.wishes)
    part = part_element(root, interpretation.solo)
    bars: dict[tuple[str, str], Element] = {}
    spans = {place: _span(interpretation, place, words) for place, words in readings.items()}
    groups, solo = _together(interpretation, readings), interpretation.solo.index
    for number, group in enumerate(groups, 1):
        changed = {place: interpretation.reading(place, words) for place, words in group.items()}
        line = line_of(written_line(interpretation, solo, changed, levels=False), interpretation, group)
        element = deepcopy(part)
        rewrite(element, interpretation.score, line)
        say(f"{number} of {len(groups)} written out")
        for place in group.keys() & line.signs:
            bars[place, group[place]] = _cut(element, *spans[place])
    for place in readings:
        bars[place, PRINTED] = _cut(part, *spans[place])
    short = dict(_shortened(interpretation, readings, part, spans))
    for (place, words), root in [*bars.items(), *short.items()]:
        if words != PRINTED:
            mark_changes(root, bars[place, PRINTED])
    drawn, shapes = draw_small([_text(root) for root in (*bars.values(), *short.values())], _NAMES)
    pictures = [_with_changes(picture) for picture in drawn]
    return Staves(dict(zip(bars, pictures, strict=False)), shapes, dict(zip(short, pictures[len(bars) :], strict=True)))


def _shortened(
    interpretation: Interpretation,
    readings: Mapping[str, Sequence[str]],
    part: Element,
    spans: Mapping[str, tuple[int, int]],
) -> Iterator[tuple[tuple[str, str], Element]]:
    """The readings that have a shorthand, as the printed bars with that in them."""
    counts = [0, *accumulate(len(measure.findall("note")) for measure in part.iterfind("measure"))]
    for place, ways in readings.items():
        sign, (first, last) = interpretation.sign_at(place), spans[place]
        for words in ways:
            if not may_be_short(sign, interpretation.reading(place, words)):
                continue
            root = _cut(part, first, last)
            if shortened(interpretation, sign, words, root, counts[first]):
                yield (place, words), root


def _text(root: Element) -> str:
    return str(etree.tostring(root, encoding="unicode"))


def _with_changes(picture: str) -> str:
    """Names of changed notes made a class: a name may stand on a page once."""
    return _CHANGED_NOTE.sub('class="changed note"', picture)


def _together(interpretation: Interpretation, readings: Mapping[str, Sequence[str]]) -> list[dict[str, str]]:
    """The readings in groups that can be written out at once."""
    groups: list[dict[str, str]] = []
    ends: list[int] = []
    for place, words in readings.items():
        bar = interpretation.sign_at(place).main(interpretation.score).bar
        for each in words:
            number = next((n for n, end in enumerate(ends) if end + _FAR <= bar), len(groups))
            if number == len(groups):
                groups.append({})
                ends.append(bar)
            groups[number][place] = each
            ends[number] = bar
    return groups


def _span(interpretation: Interpretation, place: str, words: Sequence[str]) -> tuple[int, int]:
    """First and last bar index to be shown for a sign."""
    sign, score = interpretation.sign_at(place), interpretation.score
    event = sign.main(score)
    early = any(interpretation.reading(place, each).placement == "before" for each in words)
    on_first_beat = event.onset_q == score.bars[event.bar].onset_q and sign.kind != "after-notes"
    return max(event.bar - (1 if early and on_first_beat else 0), 0), event.bar


def _cut(part: Element, first: int, last: int) -> Element:
    """A score of some bars of one part, without words and numbers around the notes."""
    measures = part.findall("measure")
    # of the bars before only those count that say what is in force
    before = [measure for measure in measures[:first] if measure.find("attributes") is not None]
    return alone([*before, *measures[first : last + 1]], len(before), len(before) + last - first, "", _LEFT_OUT)
