"""What a definition of staves says: which staves are one part, their names, instruments, keys and meters."""

from __future__ import annotations

import re
from collections.abc import Iterator

from appui.mei.names import ACCIDENTALS, Element, text_of
from appui.musicxml.read.numbers import Where, integer
from appui.score.raw import RawPart

__all__ = [
    "altered_by",
    "beats_in",
    "groups",
    "key_accidentals",
    "learn_instrument",
    "name_in",
    "plain_text",
    "unit_in",
]

#  accidentals that a music font prints inside a text (SMuFL 1.4, read in verovio's table of glyphs)
_FONT = str.maketrans({0xE260: "♭", 0xE261: "♮", 0xE262: "♯", 0xE263: "𝄪", 0xE264: "𝄫"})


def plain_text(node: Element) -> str:
    """The text of an element, with plain accidentals in the place of a music font's."""
    return text_of(node).translate(_FONT)


def groups(node: Element) -> Iterator[tuple[Element | None, list[Element]]]:
    """The staves of a definition, by parts: a brace around them, or none, and the staves."""
    for child in node:
        if child.tag == "staffDef":
            yield None, [child]
        elif child.tag == "staffGrp":
            staves = list(child.iter("staffDef"))
            if 1 < len(staves) <= 4 and _braced(child) and not any(_label(staff) for staff in staves):
                yield child, staves
            else:
                yield from groups(child)


def _braced(group: Element) -> bool:
    symbol = group.find("grpSym")
    return "brace" in (group.get("symbol"), symbol.get("symbol") if symbol is not None else None)


def _label(node: Element) -> str:
    for tag in ("label", "labelAbbr"):
        found = node.find(tag)
        if found is not None and plain_text(found):
            return plain_text(found)
    return " ".join((node.get("label") or node.get("label.abbr") or "").split())


def name_in(node: Element | None) -> str:
    """The name of a definition, or its short one; empty where it has none, or is none."""
    return "" if node is None else _label(node)


def learn_instrument(node: Element, raw: RawPart, where: Where) -> None:
    """Tell a part the instrument, the program and the clef of its definition."""
    found = node.find("instrDef")
    if found is not None:
        if raw.program is None and found.get("midi.instrnum"):
            raw.program = integer(found.get("midi.instrnum"), "midi.instrnum", where, found.sourceline, 0, 127)
        raw.instrument = raw.instrument or " ".join((found.get("midi.instrname") or "").replace("_", " ").split())
    clef = node.find("clef")
    raw.percussion |= "perc" in (node.get("clef.shape"), clef.get("shape") if clef is not None else None)


def key_accidentals(signature: Element) -> Iterator[tuple[str, int]]:
    """The letters of a mixed key signature and what they are altered by, in semitones."""
    for accidental in signature.iterfind("keyAccid"):
        letter = (accidental.get("pname") or "").upper()
        alter = ACCIDENTALS.get(accidental.get("accid") or "")
        if len(letter) == 1 and letter in "CDEFGAB" and isinstance(alter, int):
            yield letter, alter


def altered_by(fifths: int) -> dict[str, int]:
    """The letters that so many sharps (+) or flats (-) alter, in semitones."""
    order = "FCGDAEB" if fifths > 0 else "BEADGCF"
    found: dict[str, int] = {}
    for place in range(abs(fifths)):
        letter = order[place % 7]
        found[letter] = found.get(letter, 0) + (1 if fifths > 0 else -1)
    return found


def beats_in(text: str | None, plain: int, where: Where, node: Element) -> int:
    """The beats of a meter, sums such as 3+2 added up; `plain` where none are said."""
    if not text:
        return plain
    numbers = re.findall(r"\d+", text)[:16]
    total = sum(int(number[:6]) for number in numbers)
    if not 0 < total <= 256:
        raise where.error(f"a meter of {text[:20]!r} beats", "correct the time signature", node.sourceline)
    return total


def unit_in(text: str | None, plain: int, where: Where, node: Element) -> int:
    """The unit of a meter; `plain` where none is said."""
    return integer(text, "meter.unit", where, node.sourceline, 1, 256) if text else plain
