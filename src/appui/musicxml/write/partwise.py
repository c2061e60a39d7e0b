"""Parts of a tree that came from a file: partwise, each part's element, its line in the part list."""

from __future__ import annotations

from lxml import etree

from appui.musicxml.element import Element
from appui.musicxml.write.build import add, attributes
from appui.score.model import Part

__all__ = ["listed_part", "part_element", "partwise"]


def partwise(root: Element) -> Element:
    """The tree as a partwise score; a timewise one is turned round, all else kept."""
    if root.tag == "score-partwise":
        return root
    turned = etree.Element("score-partwise", attributes(root))
    measures = root.findall("measure")
    names = dict.fromkeys(part.get("id") or "" for measure in measures for part in measure.iterfind("part"))
    turned.extend([child for child in root if child.tag != "measure"])
    for name in names:
        part = add(turned, "part", id=name)
        for measure in measures:
            # a bar that a part does not have is there and empty, as the reader has it
            bar = etree.SubElement(part, "measure", attributes(measure))
            for inner in [each for each in measure.iterfind("part") if (each.get("id") or "") == name]:
                bar.extend(list(inner))
    return turned


def part_element(root: Element, part: Part) -> Element:
    """The element of a part: parts are counted, since two may have the same id."""
    return root.findall("part")[part.index]


def listed_part(root: Element, element: Element) -> Element | None:
    """The line of a part in the part list: ids may repeat, then the order tells."""
    own_id = element.get("id") or ""
    same = [part for part in root.iterfind("part") if (part.get("id") or "") == own_id]
    listed = [node for node in root.iterfind("part-list/score-part") if (node.get("id") or "") == own_id]
    return listed[min(same.index(element), len(listed) - 1)] if listed else None
