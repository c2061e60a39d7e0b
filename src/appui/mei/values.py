"""What one printed note says: pitch, value, stroke, articulations, and the slurs and ties among its attributes."""

from __future__ import annotations

import re
from collections.abc import Iterable

from appui.exact import Fraction
from appui.mei.edited import children
from appui.mei.names import ACCIDENTALS, ARTICULATIONS, DURATIONS, Element
from appui.mei.page import Around, Page
from appui.mei.staves import Staff
from appui.musicxml.read.numbers import Where, decimal, integer
from appui.score.pitch import Pitch

__all__ = [
    "articulations",
    "dots_of",
    "fermata_of",
    "first",
    "length_of",
    "pitch_of",
    "printed_value",
    "ratio_of",
    "slash_of",
    "slurs_of",
    "strokes_of",
    "ties_of",
]

_STROKES = re.compile(r"([1-6])slash")
_SLUR = re.compile(r"([imt])(\w*)")
_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}


def first(name: str, *nodes: Element) -> str:
    """The first of some elements to have an attribute; empty where none has."""
    return next((node.get(name) for node in nodes if node.get(name)), "")


def pitch_of(page: Page, staff: Staff, note: Element) -> Pitch:
    """The pitch as written; raises `ScoreError` for letters and octaves that are none."""
    percussion = staff.part.raw.percussion
    letter = (note.get("pname") or note.get("ploc") or ("b" if percussion else "")).upper()
    if len(letter) != 1 or letter not in "ABCDEFG":
        raise page.where.error(
            f"a pitch has the letter {letter[:20].lower()!r}, not one of a to g",
            "correct it in the file",
            note.sourceline,
        )
    text = first("oct.ges", note) or first("oct", note) or first("oloc", note) or staff.octave or "4"
    octave = integer(text, "oct", page.where, note.sourceline, -1, 10)
    return Pitch(letter, _alter(page, staff, note, letter, octave), octave)


def _alter(page: Page, staff: Staff, note: Element, letter: str, octave: int) -> int | Fraction:
    accidentals = [child for child in children(note) if child.tag == "accid"]
    for said in (first("accid.ges", note, *accidentals), first("accid", note, *accidentals)):
        if said in ACCIDENTALS:
            page.accidentals[staff.n, letter, octave] = ACCIDENTALS[said]
            return ACCIDENTALS[said]
    if not page.by_signature:
        return 0
    return page.accidentals.get((staff.n, letter, octave), staff.signature.get(letter, 0))


def dots_of(*nodes: Element) -> int:
    """How many dots the first of some elements to have any has; at most 8."""
    for node in nodes:
        text = node.get("dots")
        if text is not None and text.isascii() and text.isdigit():
            return min(int(text[:3]), 8)
        drawn = len(node.findall("dot"))
        if drawn:
            return min(drawn, 8)
    return 0


def printed_value(page: Page, staff: Staff, *nodes: Element) -> tuple[str, Fraction] | None:
    """MusicXML's name of a note value and its length with dots; `None` where none is printed.

    Raises `ScoreError` for values of other notations than the common one.
    """
    said = first("dur", *nodes) or staff.duration
    if not said:
        return None
    if said not in DURATIONS:
        raise page.where.error(
            f"a note has the value {said[:20]!r}, which is none of common notation",
            "write it in common notation, or correct the file",
            nodes[0].sourceline,
        )
    length_q, name = DURATIONS[said]
    dots = dots_of(*nodes)
    return name, length_q * (2 - Fraction(1, 2**dots)) if dots else length_q


def length_of(
    page: Page, staff: Staff, around: Around, printed: tuple[str, Fraction] | None, *nodes: Element
) -> Fraction:
    """How long a note sounds, in quarter notes; raises `ScoreError` where neither value nor pulses say it."""
    pulses = first("dur.ppq", *nodes)
    if pulses and staff.ppq:
        found = decimal(pulses, "dur.ppq", page.where, nodes[0].sourceline, 0, 10**12) / staff.ppq
        if found:
            return found
    if printed is None:
        raise page.where.error("a note has no value", "correct the file or export it again", nodes[0].sourceline)
    length_q = printed[1] * around.ratio
    return length_q / 2 if around.halved else length_q


def ratio_of(node: Element, where: Where) -> Fraction:
    """What a tuplet makes of its notes: three in the time of two are 2/3."""
    line = node.sourceline
    count = integer(node.get("num") or "3", "num", where, line, 1, 1000)
    usual = 1 << (count.bit_length() - 1)
    return Fraction(integer(node.get("numbase") or str(usual), "numbase", where, line, 1, 1000), count)


def strokes_of(*nodes: Element) -> str:
    """How many strokes cross a stem, as text; empty for none."""
    match = _STROKES.fullmatch(first("stem.mod", *nodes))
    return match[1] if match else ""


def beams_of(node: Element, printed: tuple[str, Fraction] | None) -> str:
    """The strokes of a tremolo from the value of its single notes, less the flags the note has; empty where unsaid."""
    value = DURATIONS.get(node.get("unitdur") or "")
    if value is None:
        return ""
    flags = _FLAGS.get(printed[0], 0) if printed else 0
    return str(max(_FLAGS.get(value[1], 0) - flags, 1))


def slash_of(around: Around, grace: str, *nodes: Element) -> bool | None:
    """Whether a small note is printed with a stroke through its stem; `None` where the file does not say."""
    if strokes_of(*nodes) or around.stroke:
        return True
    if first("stem.mod", *nodes) == "none":
        return False
    return {"unacc": True, "acc": False}.get(grace)


def articulations(*nodes: Element) -> frozenset[str]:
    """The articulations of a note and of the chord around it, by MusicXML's names."""
    words = [word for node in nodes for word in (node.get("artic") or "").split()]
    for node in nodes:
        for child in children(node):
            if child.tag == "artic":
                words += (child.get("artic") or "").split()
    return frozenset(name for word in words for name in ARTICULATIONS.get(word, ()))


def fermata_of(*nodes: Element) -> str | None:
    """The shape of a fermata among the attributes; `None` for none."""
    return "normal" if first("fermata", *nodes) else None


def slurs_of(*nodes: Element) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The slurs among the attributes that begin and end here, by their numbers."""
    starts: list[str] = []
    stops: list[str] = []
    for kind, number in _SLUR.findall(" ".join(_said("slur", nodes))):
        (starts if kind == "i" else stops if kind == "t" else []).append(f"attribute {number}")
    return tuple(starts), tuple(stops)


def ties_of(*nodes: Element) -> tuple[bool, bool]:
    """Whether the attributes tie the note on, and back."""
    said = first("tie", *nodes)
    return bool(set("im") & set(said)), bool(set("mt") & set(said))


def _said(name: str, nodes: Iterable[Element]) -> list[str]:
    return [node.get(name) for node in nodes if node.get(name)]
