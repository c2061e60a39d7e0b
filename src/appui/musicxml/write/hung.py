"""What hangs on the notes of a score: ornaments, articulations, fermatas, slurs, tuplets, as the model has them.

Source: MusicXML 4.0, `schema/musicxml.xsd`, complex types notations, ornaments and articulations (read).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.accidentals import ACCIDENTAL_NAMES
from appui.musicxml.write.beams import FLAGS, beams_of
from appui.musicxml.write.build import add, new
from appui.musicxml.write.note import notations_of, set_beams
from appui.score.model import Event, Ornament, SmallNote

__all__ = ["CHORDAL", "beam_small", "hang_ornaments", "hang_strokes", "slur_ends", "tuplet_ends"]

#  signs of the whole chord stand beside the ornaments, on every note of it
CHORDAL = ("arpeggiate", "non-arpeggiate")


def hang_ornaments(note: Element, ornaments: Iterable[Ornament]) -> None:
    """Print ornaments on a note, each with its accidental marks."""
    for ornament in ornaments:
        notations = notations_of(note)
        if ornament.kind in CHORDAL:
            notations.append(_element(ornament))
            continue
        group = notations.find("ornaments")
        if group is None:
            group = add(notations, "ornaments")
        group.append(_element(ornament))
        for alter, place in ((ornament.above, "above"), (ornament.below, "below")):
            if alter in ACCIDENTAL_NAMES and alter is not None:
                add(group, "accidental-mark", ACCIDENTAL_NAMES[alter], placement=place)


def _element(ornament: Ornament) -> Element:
    node = new(ornament.kind, ornament.text or None)
    for name, value in ornament.attributes:
        node.set(name, value)
    return node


def hang_strokes(
    note: Element, articulations: Iterable[str], pauses: Iterable[str] = (), fermata: str | None = None
) -> None:
    """Print articulations, breath marks and a fermata on a note or rest."""
    marks = [*sorted(articulations), *sorted(pauses)]
    if marks:
        group = add(notations_of(note), "articulations")
        for mark in marks:
            add(group, mark)
    if fermata is not None:
        add(notations_of(note), "fermata", fermata if fermata != "normal" else None)


def slur_ends(events: Sequence[Event]) -> tuple[set[int], set[int]]:
    """Where the slurs of a voice begin and end: indices of the first and last event under each run of slurs."""
    starts, stops = set(), set()
    for index, event in enumerate(events):
        after = events[index + 1] if index + 1 < len(events) else None
        goes_on = event.slur_on and after is not None and after.slur_back
        if goes_on and not (event.slur_back and index and events[index - 1].slur_on):
            starts.add(index)
        if event.slur_back and index and events[index - 1].slur_on and not goes_on:
            stops.add(index)
    return starts, stops


def tuplet_ends(events: Sequence[Event]) -> tuple[set[int], set[int]]:
    """Where the tuplets of a voice begin and end: neighbours of one ratio, until their lengths come out even."""
    starts, stops = set(), set()
    first, sum_q = -1, Fraction(0)
    for index, event in enumerate(events):
        before = events[index - 1] if index else None
        if first >= 0 and (before is None or event.tuplet != before.tuplet or event.bar != before.bar):
            stops.add(index - 1)
            first = -1
        if event.tuplet == 1 or event.type_name is None:
            continue
        if first < 0:
            first, sum_q = index, Fraction(0)
            starts.add(index)
        sum_q += event.duration_q
        if sum_q.denominator & (sum_q.denominator - 1) == 0:  # a power of two: no part of a tuplet is left over
            stops.add(index)
            first = -1
    if first >= 0:
        stops.add(len(events) - 1)
    return starts, stops


def beam_small(notes: Sequence[Element], group: Sequence[SmallNote]) -> None:
    """Join a group of small notes by beams, where all of them have flags."""
    flags = [FLAGS.get(small.type_name or "", 0) for small in group]
    if len(notes) == len(group) and all(flags):
        for note, beams in zip(notes, beams_of(flags), strict=True):
            set_beams(note, beams)
