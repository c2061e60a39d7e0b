"""A score cut to some of its bars: what is in force at the first of them said there, and no slur or tie left open.

What lasts from earlier bars (key, meter, clef, transposition, divisions, staves) is put into the attributes of the
first bar. Of what has a beginning and an end, such as slurs, ties, hairpins, brackets, endings and repeats, both must
be inside: a half is left out.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import groupby

from lxml import etree

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, attributes, children, copied, new, put, remove
from appui.musicxml.write.head import Player, list_part, new_score
from appui.musicxml.write.time import attributes_of

__all__ = ["alone", "carry", "cut_bars", "drop_open_ends", "in_force", "pairs", "unslur"]

_LASTING = ("divisions", "key", "time", "staves", "part-symbol", "instruments", "clef", "staff-details", "transpose")
_STOPS = frozenset({"stop", "discontinue", "backward"})
_BETWEEN = frozenset({"continue", "change", "let-ring", "sostenuto", "resume"})
_SPANNERS = (
    "slur tied tie tuplet glissando slide wavy-line "
    "wedge octave-shift dashes bracket pedal principal-voice repeat ending"
).split()


def cut_bars(
    root: Element, first: int, last: int, qpm: Fraction | None = None, *, whole_start: bool | None = None
) -> None:
    """Leave of a partwise tree the bars from one index to another, in all parts.

    `qpm` is the tempo that lasts from before, in quarter notes a minute. With `whole_start` a repeat may go back to the
    first bar left; if nothing is said, where that is the first of the tree.
    """
    at_start = first == 0 if whole_start is None else whole_start
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
            add(part, "measure", number=names[first])
        drop_open_ends(part, _SPANNERS, whole_start=at_start)
    head = root.find("part/measure")
    if qpm is not None and head is not None:
        _say_tempo(head, qpm)


def _say_tempo(measure: Element, qpm: Fraction) -> None:
    heads = ("print", "attributes")
    place = next((index for index, child in enumerate(measure) if child.tag not in heads), len(measure))
    measure.insert(place, new("sound", tempo=f"{float(qpm):.2f}"))


def in_force(before: Iterable[Element]) -> dict[tuple[str, str], Element]:
    """What the attributes of some bars leave in force, by the name of the element and its number."""
    force: dict[tuple[str, str], Element] = {}
    for measure in before:
        for node in measure.iterfind("attributes"):
            force |= {_named(child): child for child in children(node) if child.tag in _LASTING}
    return force


def _named(child: Element) -> tuple[str, str]:
    return child.tag, child.get("number") or ""


def carry(before: Iterable[Element], first: Element) -> None:
    """Put what is in force after some bars into the attributes of the bar that is to be the first."""
    force = in_force(before)
    if not force:
        return
    own = attributes_of(first)
    said = {_named(child) for child in children(own)}
    for name in sorted(force.keys() - said, key=lambda name: (_LASTING.index(name[0]), name[1])):
        put(own, copied(force[name]))


def alone(measures: Sequence[Element], first: int, last: int, name: str, left_out: Collection[str]) -> Element:
    """Bars of a part, by index, as a score of their own, without the elements of some names; nothing is changed."""
    root = new_score(software="")
    part = list_part(root, "P1", Player(name))
    for measure in measures[first : last + 1]:
        bar = etree.SubElement(part, "measure", attributes(measure))
        bar.attrib.pop("id", "")
        bar.extend([copied(child) for child in children(measure) if child.tag not in left_out])
    carry(measures[:first], part[0])
    for node in part.iter("note"):
        node.attrib.pop("id", "")
    return root


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
    remove(end)
    while parent is not None and parent.tag in ("direction-type", "direction") and parent.find("*") is None:
        end, parent = parent, parent.getparent()
        remove(end)
    if parent is not None and parent.tag == "direction" and parent.find("direction-type") is None:
        remove(parent)
