"""Beams: which notes are joined, and by how many strokes.

Beams join what is shorter than a quarter within a beat (common practice, no source). Which notes belong together the
writer says; the strokes follow from their flags.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.note import set_beams
from appui.musicxml.write.time import Placed, placed
from appui.score.model import Bar

__all__ = ["FLAGS", "beam_bar", "beams_of"]

FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6, "512th": 7, "1024th": 8}


def beams_of(flags: Sequence[int]) -> list[tuple[str, ...]]:
    """The beams of neighbours that are joined, given how many flags each has; none for one alone.

    A stroke that no neighbour shares points back, to the dotted note it fills up, and forward from the first.

    >>> beams_of([1, 2])
    [('begin',), ('end', 'backward hook')]
    """
    if len(flags) < 2:
        return [() for _ in flags]
    around = [0, *flags, 0]
    return [
        tuple(_stroke(around[index], around[index + 2], number, first=index == 0) for number in range(1, own + 1))
        for index, own in enumerate(flags)
    ]


def _stroke(before: int, after: int, number: int, *, first: bool) -> str:
    if before >= number and after >= number:
        return "continue"
    if before >= number or after >= number:
        return "end" if before >= number else "begin"
    return "forward hook" if first else "backward hook"


def beam_bar(measure: Element, bar: Bar, divisions: int, voices: Collection[str]) -> None:
    """Beam the full-size notes of some voices of a bar by beats, in place of the beams they have."""
    by_voice: dict[str, list[Placed]] = {}
    for one in placed(measure, divisions):
        voice = (one.node.findtext("voice") or "").strip()
        if one.node.tag != "note" or voice not in voices or one.node.find("grace") is not None:
            continue
        set_beams(one.node, ())
        if one.node.find("chord") is None:
            by_voice.setdefault(voice, []).append(one)
    for notes in by_voice.values():
        for group in _groups(notes, bar):
            for note, strokes in zip(group, beams_of([_flags(note) for note in group]), strict=True):
                set_beams(note, strokes)


def _flags(note: Element) -> int:
    return 0 if note.find("rest") is not None else FLAGS.get(note.findtext("type") or "", 0)


def _groups(notes: Sequence[Placed], bar: Bar) -> Iterator[list[Element]]:
    """Neighbours in one beat that have flags."""
    group: list[Element] = []
    beat: Fraction | int = -1
    for one in notes:
        flagged, here = bool(_flags(one.node)), (one.start_q + bar.lead_q) // bar.meter.beat_q
        if not flagged or here != beat:
            yield group
            group = []
        if flagged:
            group.append(one.node)
        beat = here
    yield group
