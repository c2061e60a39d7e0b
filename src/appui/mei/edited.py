"""What an edition marks in its text: variants, corrections, additions. The main text is read, its markup passed over.

Of an `app` the lemma, else the first reading; of a `choice` the corrected, regularized or expanded text; of a `subst`
what was added; nothing of a deletion (MEI 5.0, modules critapp and edittrans, memory).
"""

from __future__ import annotations

from collections.abc import Iterator

from appui.mei.names import Element, is_element

__all__ = ["VARIANTS", "children", "following"]

VARIANTS = ("app", "choice", "subst")
_PREFERRED = {"app": ("lem", "rdg"), "choice": ("corr", "reg", "expan", "sic", "orig", "abbr"), "subst": ("add",)}
_PASSED_OVER = frozenset(
    {
        "lem",
        "rdg",
        "corr",
        "reg",
        "sic",
        "orig",
        "add",
        "supplied",
        "unclear",
        "damage",
        "restore",
        "expan",
        "abbr",
        "ref",
    }
)
_NOTHING = frozenset({"del", "gap"})


def children(node: Element) -> Iterator[Element]:
    """The elements inside, those inside an edition's markup included."""
    for child in node:
        if not is_element(child) or child.tag in _NOTHING:
            continue
        if child.tag in VARIANTS:
            chosen = _chosen(child)
            if chosen is not None:
                yield from children(chosen)
        elif child.tag in _PASSED_OVER:
            yield from children(child)
        else:
            yield child


def _chosen(node: Element) -> Element | None:
    for tag in _PREFERRED[node.tag]:
        found = node.find(tag)
        if found is not None:
            return found
    return None


def following(node: Element, tag: str) -> Iterator[Element]:
    """The elements of a name inside, in the main text."""
    return (child for child in children(node) if child.tag == tag)
