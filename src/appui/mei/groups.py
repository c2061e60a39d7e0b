"""What stands around the notes of a layer: beams, tuplets, tremolos, groups of small notes; rests and repeats of bars.

Source: MEI 5.0, modules cmn and shared (memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from appui.mei.edited import VARIANTS, children
from appui.mei.layer import Layer
from appui.mei.names import Element
from appui.mei.page import Around, Page
from appui.mei.staves import Staff
from appui.mei.values import beams_of, printed_value, ratio_of, strokes_of
from appui.score.model import Ornament

__all__ = ["read_layer"]

MAX_DEPTH = 40


class _Reading(NamedTuple):
    """A layer, and the same staff's layer in the bar before."""

    layer: Layer
    before: Element | None


def read_layer(page: Page, staff: Staff, node: Element, voice: str, before: Element | None) -> None:
    """Read a layer into its part; `before` is the layer that a sign for "the same again" stands for."""
    _inside(_Reading(Layer(page, staff, voice), before), node, Around())


def _inside(reading: _Reading, node: Element, around: Around) -> None:
    layer = reading.layer
    if around.depth > MAX_DEPTH:
        raise layer.page.where.error(
            f"notes are nested more than {MAX_DEPTH} deep", "export the file again", node.sourceline
        )
    for child in children(node):
        handler = _HANDLERS.get(child.tag)
        if handler is not None:
            handler(reading, child, around)
    if any(child.tag in VARIANTS for child in node):
        layer.page.notice(layer.staff, node, "the edition gives variants: its main text is read")


def _tuplet(reading: _Reading, node: Element, around: Around) -> None:
    _inside(reading, node, around.within(ratio=around.ratio * ratio_of(node, reading.layer.page.where)))


def _beam(reading: _Reading, node: Element, around: Around) -> None:
    _inside(reading, node, around.within())


def _small_group(reading: _Reading, node: Element, around: Around) -> None:
    slashed = node.get("slash") == "true" or bool(strokes_of(node))
    _inside(reading, node, around.within(grace=node.get("grace") or "unknown", stroke=slashed))
    if node.get("attach") == "pre":
        text = "small notes that are said to follow a note (attach) are read by their place"
        reading.layer.page.notice(reading.layer.staff, node, text)


def _tremolo(reading: _Reading, node: Element, around: Around) -> None:
    """Strokes through the stem of one note or chord."""
    notes = [child for child in children(node) if child.tag in ("note", "chord")]
    printed = printed_value(reading.layer.page, reading.layer.staff, *notes) if notes else None
    if node.get("form") == "unmeas":
        mark = Ornament("tremolo", (("type", "unmeasured"),), "0")
    else:
        strokes = strokes_of(*notes, node) or beams_of(node, printed) or "3"
        mark = Ornament("tremolo", (("type", "single"),), strokes)
    _inside(reading, node, around.within(tremolo=(mark,)))


def _tremolo_of_two(reading: _Reading, node: Element, around: Around) -> None:
    """A tremolo from one note or chord to the next: each is printed with the value of both."""
    notes = [child for child in children(node) if child.tag in ("note", "chord")]
    printed = printed_value(reading.layer.page, reading.layer.staff, *notes) if notes else None
    strokes = (node.get("beams") or beams_of(node, printed) or "3")[:1]
    for note, kind in zip(notes, ("start", "stop"), strict=False):
        mark = Ornament("tremolo", (("type", kind),), strokes)
        _HANDLERS[note.tag](reading, note, around.within(halved=True, tremolo=(mark,)))


def _same_again(reading: _Reading, node: Element, around: Around) -> None:
    layer = reading.layer
    if reading.before is None or any(child.tag == node.tag for child in reading.before):
        layer.page.notice(layer.staff, node, "a bar is to be as the one before it, which has no notes: read as silent")
    else:
        _inside(_Reading(layer, None), reading.before, around.within())


def _unread(reading: _Reading, node: Element, around: Around) -> None:
    del around
    layer = reading.layer
    layer.page.notice(layer.staff, node, f"the sign <{node.tag}> for a repeated figure is not read: silence there")


def _key(reading: _Reading, node: Element, around: Around) -> None:
    del around
    layer = reading.layer
    layer.page.staves.key(layer.staff, node, layer.gatherer.index, layer.at_q)


_HANDLERS: dict[str, Callable[[_Reading, Element, Around], None]] = {
    "note": lambda reading, node, around: reading.layer.note(node, around),
    "chord": lambda reading, node, around: reading.layer.chord(node, around),
    "rest": lambda reading, node, around: reading.layer.rest(node, around),
    "space": lambda reading, node, around: reading.layer.space(node, around),
    "mRest": lambda reading, node, around: reading.layer.bar_rest(node),
    "multiRest": lambda reading, node, around: reading.layer.bar_rest(node),
    "beam": _beam,
    "ligature": _beam,
    "tuplet": _tuplet,
    "graceGrp": _small_group,
    "bTrem": _tremolo,
    "fTrem": _tremolo_of_two,
    "mRpt": _same_again,
    "mRpt2": _unread,
    "multiRpt": _unread,
    "halfmRpt": _unread,
    "beatRpt": _unread,
    "keySig": _key,
}
