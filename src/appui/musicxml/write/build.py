"""Making and placing elements: every writer of MusicXML builds with these.

Conventions
    An attribute's name is given with an underscore where MusicXML has a hyphen; attributes that are `None` are left
    out. Children of the elements in `ORDER` are put where the schema wants them, whatever order they are made in.

Source: MusicXML 4.0, `schema/musicxml.xsd` (read).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import deepcopy

from lxml import etree

from appui.exact import Fraction
from appui.musicxml.element import Element

__all__ = [
    "ORDER",
    "Element",
    "add",
    "attributes",
    "children",
    "copied",
    "decimal_text",
    "needed",
    "new",
    "put",
    "remove",
    "remove_tail_kept",
]

#  element -> its children in the order of the schema
ORDER: dict[str, tuple[str, ...]] = {
    tag: tuple(words.split())
    for tag, words in {
        "note": "grace cue chord pitch unpitched rest duration tie instrument footnote level voice type dot accidental "
        "time-modification stem notehead notehead-text staff beam notations lyric play listen",
        "attributes": "footnote level divisions key time staves part-symbol instruments clef staff-details transpose "
        "for-part directive measure-style",
        "direction": "direction-type offset footnote level voice staff sound listening",
        "harmony": "root numeral function kind inversion bass degree frame offset footnote level staff",
        "barline": "bar-style footnote level wavy-line segno coda fermata ending repeat",
        "score-part": "identification part-link part-name part-name-display part-abbreviation "
        "part-abbreviation-display group score-instrument player midi-device midi-instrument",
        "midi-instrument": "midi-channel midi-name midi-bank midi-program midi-unpitched volume pan elevation",
        "score-partwise": "work movement-number movement-title identification defaults credit part-list part",
        "identification": "creator rights encoding source relation miscellaneous",
    }.items()
}


def new(tag: str, content: object = None, /, **attributes: str | None) -> Element:
    """An element with its text and attributes."""
    found = etree.Element(
        tag, {name.replace("_", "-"): value for name, value in attributes.items() if value is not None}
    )
    if content is not None:
        found.text = str(content)
    return found


def add(parent: Element, tag: str, content: object = None, /, **attributes: str | None) -> Element:
    """A new element as the last child of another."""
    child = new(tag, content, **attributes)
    parent.append(child)
    return child


def put(parent: Element, child: Element) -> Element:
    """Put an element among the children of another, after those that `ORDER` has before it and after its like."""
    order = ORDER[parent.tag]
    before = order[: order.index(child.tag) + 1]
    parent.insert(max((place + 1 for place, other in enumerate(parent) if other.tag in before), default=0), child)
    return child


def needed(parent: Element, path: str) -> Element:
    """The element at a path that must be there; raises `KeyError` where it is not."""
    found = parent.find(path)
    if found is None:
        raise KeyError(f"<{parent.tag}> has no {path}")
    return found


def children(parent: Element) -> Iterator[Element]:
    """The elements in an element, without comments and processing instructions."""
    return parent.iterchildren("*")


def attributes(node: Element) -> dict[str, str]:
    """The attributes of an element, by name."""
    return {str(name): str(value) for name, value in node.items()}


def copied(node: Element) -> Element:
    """A copy with all that is in it, and without the text that follows it."""
    found = deepcopy(node)
    found.tail = None
    return found


def remove(node: Element) -> None:
    """Take an element out of its tree, where it is in one."""
    parent = node.getparent()
    if parent is not None:
        parent.remove(node)


def remove_tail_kept(nodes: Iterable[Element]) -> None:
    """Take elements out, and leave words that follow them where they are: they belong to the file, not to these."""
    for node in list(nodes):
        previous = node.getprevious()
        if previous is not None and node.getparent() is not None:
            previous.tail = (previous.tail or "") + (node.tail or "").strip()
        remove(node)


def decimal_text(value: Fraction | int) -> str:
    """A number as MusicXML has it: whole, or with at most six decimals.

    >>> decimal_text(Fraction(5, 2)), decimal_text(Fraction(1, 3)), decimal_text(120)
    ('2.5', '0.333333', '120')
    """
    whole = Fraction(value)
    return str(whole.numerator) if whole.denominator == 1 else f"{float(whole):.6f}".rstrip("0").rstrip(".")
