"""Words of MEI and what they mean here: accidentals, note values, articulations, keys.

Source: MEI 5.0, the customization for common music notation: data types data.ACCIDENTAL.WRITTEN and .GESTURAL,
data.DURATION.cmn, data.ARTICULATION (memory); the gestural values of MEI 3 and 4 are the same.
"""

from __future__ import annotations

from typing import Any

from appui.exact import Fraction

__all__ = ["ACCIDENTALS", "ARTICULATIONS", "DURATIONS", "Element", "ident", "is_element", "refs", "text_of"]

Element = Any  # the stubs of lxml have no type for the line an element stands in

ACCIDENTALS: dict[str, int | Fraction] = {
    "s": 1,
    "f": -1,
    "n": 0,
    "ss": 2,
    "x": 2,
    "ff": -2,
    "xs": 3,
    "sx": 3,
    "ts": 3,
    "tf": -3,
    "nf": -1,
    "ns": 1,
    "su": Fraction(3, 2),
    "sd": Fraction(1, 2),
    "fu": Fraction(-1, 2),
    "fd": Fraction(-3, 2),
    "nu": Fraction(1, 2),
    "nd": Fraction(-1, 2),
    "1qs": Fraction(1, 2),
    "1qf": Fraction(-1, 2),
    "3qs": Fraction(3, 2),
    "3qf": Fraction(-3, 2),
}

#  value -> length in quarter notes and MusicXML's name of it
DURATIONS: dict[str, tuple[Fraction, str]] = {
    "maxima": (Fraction(32), "maxima"),
    "long": (Fraction(16), "long"),
    "breve": (Fraction(8), "breve"),
    "1": (Fraction(4), "whole"),
    "2": (Fraction(2), "half"),
    "4": (Fraction(1), "quarter"),
    "8": (Fraction(1, 2), "eighth"),
    "16": (Fraction(1, 4), "16th"),
    "32": (Fraction(1, 8), "32nd"),
    "64": (Fraction(1, 16), "64th"),
    "128": (Fraction(1, 32), "128th"),
    "256": (Fraction(1, 64), "256th"),
    "512": (Fraction(1, 128), "512th"),
    "1024": (Fraction(1, 256), "1024th"),
}

#  the names that MusicXML has for them
ARTICULATIONS: dict[str, tuple[str, ...]] = {
    "stacc": ("staccato",),
    "ten": ("tenuto",),
    "acc": ("accent",),
    "acc-soft": ("soft-accent",),
    "acc-inv": ("soft-accent",),
    "marc": ("strong-accent",),
    "stacciss": ("staccatissimo",),
    "stroke": ("staccatissimo",),
    "spicc": ("spiccato",),
    "ten-stacc": ("detached-legato",),
    "marc-stacc": ("strong-accent", "staccato"),
    "stress": ("stress",),
    "unstress": ("unstress",),
    "scoop": ("scoop",),
    "plop": ("plop",),
    "doit": ("doit",),
    "fall": ("falloff",),
}

_ID = "{http://www.w3.org/XML/1998/namespace}id"


def ident(node: Element) -> str:
    """The `xml:id` of an element, or nothing."""
    return node.get(_ID) or ""


def refs(node: Element, name: str) -> list[str]:
    """The ids an attribute points to: ``#a #b``."""
    return [word.rpartition("#")[2] for word in (node.get(name) or "").split()]


def is_element(node: Element) -> bool:
    """Whether a child is an element, not a comment or a processing instruction."""
    return isinstance(node.tag, str)


def text_of(node: Element) -> str:
    """All text inside an element, on one line."""
    return " ".join("".join(node.itertext()).split())
