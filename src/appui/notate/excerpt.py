"""A few bars of a part as it is played, as a score of their own: what a page shows of one reading."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy

from lxml import etree

from appui.interpret.interpretation import Interpretation
from appui.notate.cut import carry
from appui.notate.engrave import Element
from appui.notate.line import written_line
from appui.notate.tree import part_element, rewrite, tree_text
from appui.style.reading import Reading

__all__ = ["excerpt"]


def excerpt(
    interpretation: Interpretation, root: Element, bars: tuple[int, int], changed: Mapping[str, Reading] | None = None
) -> bytes:
    """Bars (first and last index) of the solo as it is played, with some readings changed by place, as MusicXML.

    `root` is the partwise tree the interpretation's score was read from; it is not changed.
    """
    part = deepcopy(part_element(root, interpretation.solo))
    rewrite(part, interpretation.score, written_line(interpretation, interpretation.solo.index, changed))
    measures = part.findall("measure")
    first = measures[bars[0]]
    carry(measures[: bars[0]], first)
    new = etree.Element("score-partwise", version="4.0")
    listed = etree.SubElement(etree.SubElement(new, "part-list"), "score-part", id="P1")
    etree.SubElement(listed, "part-name").text = interpretation.solo.name
    own = etree.SubElement(new, "part", id="P1")
    own.extend(measures[bars[0] : bars[1] + 1])
    for measure in own:
        for child in list(measure):
            if not isinstance(child.tag, str) or child.tag in ("print", "sound", "harmony", "figured-bass"):
                measure.remove(child)
    return tree_text(new)
