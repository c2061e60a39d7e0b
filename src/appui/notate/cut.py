"""A score cut to some of its bars: what is in force at the first of them said there, and no slur or tie left open.

What lasts from earlier bars (key, meter, clef, transposition, divisions, staves) is put into the attributes of the
first bar. Of what has a beginning and an end, such as slurs, ties, hairpins, brackets, endings and repeats, both must
be inside: a half is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import deepcopy
from itertools import groupby
from typing import Any

from lxml import etree

from appui.exact import Fraction

__all__ = ["carry", "cut_bars", "drop_open_ends", "pairs", "unslur"]

Element = Any  # lxml ships no types of its own

_LASTING = ("divisions", "key", "time", "staves", "part-symbol", "instruments", "clef", "staff-details", "transpose")
#  where the attributes of MusicXML 4.0 stand (complex type attributes, read); the first two before all others
_ORDER = ("footnote", "level", *_LASTING, "for-part", "directive", "measure-style")
_STOPS = frozenset({"stop", "discontinue", "backward"})
_BETWEEN = frozenset({"continue", "change", "let-ring", "sostenuto", "resume"})
_SPANNERS = (
    "slur tied tie tuplet glissando slide wavy-line "
    "wedge octave-shift dashes bracket pedal principal-voice repeat ending"
).split()


def cut_bars(root: Element, first: int, last: int, qpm: Fraction | None = None) -> None:
    """Leave of a partwise tree the bars from one index to another, in all parts.

    `qpm` is the tempo that lasts from before, in quarter notes a minute.
    """
    names = [measure.get("number") or "" for measure in max(root.findall("part"), key=len).iterfind("measure")]
    for part in root.iterfind("part"):
        measures = part.findall("measure")
        kept = measures[first : last + 1]
        if kept:
            carry(measures[:first], kept[0])
        for measure in measures[:first] + measures[last + 1 :]:
            part.remove(measure)
        if not kept:
            # a part that ends earlier than others must still have a bar
            etree.SubElement(part, "measure", number=names[first])
        drop_open_ends(part, _SPANNERS, whole_start=first == 0)
    if qpm is not None:
        _say_tempo(root.find("part/measure"), qpm)


def _say_tempo(measure: Element, qpm: Fraction) -> None:
    heads = ("print", "attributes")
    place = next((index for index, child in enumerate(measure) if child.tag not in heads), len(measure))
    measure.insert(place, etree.Element("sound", tempo=f"{float(qpm):.2f}"))


def carry(before: Iterable[Element], first: Element) -> None:
    """Put what is in force after some bars into the attributes of the bar that is to be the first."""
    force: dict[tuple[str, str], Element] = {}
    for measure in before:
        for attributes in measure.iterfind("attributes"):
            force |= {(child.tag, child.get("number") or ""): child for child in attributes if child.tag in _LASTING}
    own = first.find("attributes")
    own_is_first = own is not None and not any(note.tag == "note" for note in own.itersiblings(preceding=True))
    said = {(child.tag, child.get("number") or "") for child in own} if own_is_first else set()
    children = [deepcopy(child) for key, child in force.items() if key not in said]
    if own_is_first:
        children += list(own)
        first.remove(own)
    if children:
        merged = etree.Element("attributes")
        merged.extend(sorted(children, key=lambda child: _rank(child.tag)))
        first.insert(1 if len(first) and first[0].tag == "print" else 0, merged)


def _rank(tag: object) -> int:
    return _ORDER.index(str(tag)) if tag in _ORDER else len(_ORDER)


def drop_open_ends(part: Element, tags: Iterable[str], *, whole_start: bool = False) -> None:
    """Remove the ends that have no other end; with `whole_start` a repeat may go back to the first bar."""
    for tag in tags:
        paired = {end for pair in pairs(part, tag) for end in pair}
        for end in [end for end in part.iter(tag) if end not in paired and _kind(end) not in _BETWEEN]:
            if not (whole_start and end.get("direction") == "backward"):
                _remove(end)


def unslur(part: Element, gone: Iterable[Element]) -> None:
    """Take away slurs and ties between notes that go and notes that stay: nothing would be at their other end."""
    going = set(gone)
    for tag in ("slur", "tied", "tie"):
        for pair in list(pairs(part, tag)) if going else ():
            if len({_note_of(end) in going for end in pair}) == 2:
                for end in pair:
                    _remove(end)


def pairs(part: Element, tag: str) -> Iterator[tuple[Element, Element]]:
    """The two ends of each slur, tie, hairpin …, as they stand in the part."""
    begun: dict[tuple[str, ...], Element] = {}
    # at one note the old one ends before the new one begins, whatever the order in the file
    for _, here in groupby(part.iter(tag), key=lambda end: end if (note := _note_of(end)) is None else note):
        for end in sorted(here, key=lambda end: _kind(end) not in _STOPS):
            if _kind(end) in _BETWEEN:
                continue
            if _kind(end) not in _STOPS:
                begun[_key(end)] = end
            elif (start := _beginning(begun, _key(end))) is not None:
                yield start, end


def _beginning(begun: dict[tuple[str, ...], Element], key: tuple[str, ...]) -> Element | None:
    """What an end belongs to: in its own voice, else in another, where slurs and ties may come from."""
    found = key if key in begun else next((each for each in reversed(begun) if each[1:] == key[1:]), None)
    return begun.pop(found) if found is not None else None


def _kind(end: Element) -> str:
    return end.get("type") or end.get("direction") or ""


def _note_of(end: Element) -> Element | None:
    return next(end.iterancestors("note"), None)


def _key(end: Element) -> tuple[str, ...]:
    """What the two ends of one thing have in common: for ties the pitch, else voice and number."""
    note = _note_of(end)
    voice = (note.findtext("voice") or "").strip() if note is not None else ""
    if note is not None and end.tag in ("tied", "tie"):
        return (voice, *(note.findtext(f"pitch/{name}") or "" for name in ("step", "alter", "octave")))
    return voice, end.get("number") or "1"


def _remove(end: Element) -> None:
    """The end, and the direction that held nothing else."""
    parent = end.getparent()
    parent.remove(end)
    while parent.tag in ("direction-type", "direction") and parent.find("*") is None:
        end, parent = parent, parent.getparent()
        parent.remove(end)
    if parent.tag == "direction" and parent.find("direction-type") is None:
        parent.getparent().remove(parent)
