"""Cues: what another part plays just before the solo comes in after a long rest, small and silent.

The part that leads is taken: of those that play throughout, the highest. Its upper notes stand in the solo's own pitch,
an octave or more away where they would leave the staff; then the name says so. A cue is a bar long, two where a bar is
short. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import lcm
from statistics import mean
from typing import NamedTuple

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.accidentals import InForce
from appui.musicxml.write.beams import beam_bar
from appui.musicxml.write.build import children, new, put
from appui.musicxml.write.direction import words
from appui.musicxml.write.note import Look, forward, new_note
from appui.musicxml.write.partwise import listed_part, part_element
from appui.musicxml.write.time import refine
from appui.notate.rests import one_rest, rest_groups
from appui.score.model import Bar, Event, Part, Score
from appui.score.pitch import Pitch

__all__ = ["put_cues"]

#  so many bars are a long rest, or so many seconds
_LONG_BARS, _LONG_S = 4, 10.0
#  a bar shorter than this is too short for a cue
_SHORT_S = 2.5
_VOICE = "9"
#  letter of a clef and its line -> steps above C0 of the staff's middle line
_LETTER_STEPS = {"G": 32, "F": 24, "C": 28}
_ROOM = 8  # steps from the middle line that ledger lines may reach


class _Cue(NamedTuple):
    part: Part
    first: int
    last: int


def put_cues(root: Element, solo: Element, score: Score, part: Part) -> int:
    """Put cues into the solo's element of a tree that still has the other parts; returns how many.

    Raises `ScoreError` where the cues' lengths would need too fine divisions.
    """
    measures = solo.findall("measure")
    found = [cue for rest in _rests(measures) if (cue := _cue(score, part, *rest)) is not None]
    if not found:
        return 0
    lengths = [event.duration_q for cue in found for event in _line(cue.part, cue.first, cue.last)]
    lengths += [score.bars[index].length_q for cue in found for index in range(cue.first, cue.last + 1)]
    divisions = refine(solo, lcm(*(length.denominator for length in lengths)), score.file)
    for cue in found:
        name = _short_name(root, cue.part)
        shift = _shift(score, part, measures, cue)
        octaves = f" {abs(shift) // 7 * 7 + 1}{'va' if abs(shift) == 7 else 'ma'}" if shift else ""
        for index in range(cue.first, cue.last + 1):
            label = f"{name}{octaves}" if index == cue.first else ""
            _write(measures[index], score.bars[index], cue.part, part, divisions, shift, label)
    return len(found)


def _rests(measures: Sequence[Element]) -> Iterator[tuple[int, int, int]]:
    """For every rest the solo comes out of: its first bar, the first bar of its last group, its last bar, by index."""
    first = before = -1
    for start, last in rest_groups(measures):
        first = first if start == before + 1 and first >= 0 else start
        before = last
        if last + 1 < len(measures) and any(note.find("rest") is None for note in measures[last + 1].iterfind("note")):
            yield first, start, last


def _cue(score: Score, part: Part, first: int, group: int, last: int) -> _Cue | None:
    """The cue at the end of a rest; `None` where it is short, or nobody plays there."""
    bars = score.bars[first : last + 1]
    if len(bars) < _LONG_BARS and _seconds(score, bars) < _LONG_S:
        return None
    start = max(last - (1 if _seconds(score, bars[-1:]) < _SHORT_S and len(bars) > _LONG_BARS else 0), group)
    leader = _leader(score, part, start, last)
    return _Cue(leader, start, last) if leader is not None else None


def _seconds(score: Score, bars: Sequence[Bar]) -> float:
    return float(sum(bar.length_q * 60 / score.tempo_at(bar.onset_q).qpm for bar in bars))


def _leader(score: Score, solo: Part, first: int, last: int) -> Part | None:
    """The highest of the parts that play in all of some bars and at the last of them; `None` where none does."""
    heights: dict[int, float] = {}
    for part in score.parts:
        line = [event for event in _line(part, first, last) if event.notes]
        sounding = {event.bar for event in line} >= set(range(first, last + 1))
        if part.index != solo.index and not part.percussion and sounding:
            heights[part.index] = mean(float(event.top.sounding.midi) for event in line)
    return score.parts[max(heights, key=lambda index: heights[index])] if heights else None


def _line(part: Part, first: int, last: int) -> list[Event]:
    """The events of a part's first voice in some bars."""
    if not part.voices:
        return []
    return [event for event in part.voices[0].events if first <= event.bar <= last]


def _written(solo: Part, event: Event) -> Pitch:
    return solo.transposition_at(event.onset_q).written(event.top.sounding)


def _shift(score: Score, solo: Part, measures: Sequence[Element], cue: _Cue) -> int:
    """How many steps, in octaves, the cue is moved to stand on the solo's staff."""
    steps = [_written(solo, event).diatonic for event in _line(cue.part, cue.first, cue.last) if event.notes]
    middle = _middle(measures[: cue.first + 1])
    shift = 0
    while min(steps) + shift < middle - _ROOM:
        shift += 7
    while max(steps) + shift > middle + _ROOM and min(steps) + shift - 7 >= middle - _ROOM:
        shift -= 7
    return shift


def _middle(measures: Sequence[Element]) -> int:
    """The middle line of the staff in the clef in force, in steps above C0."""
    clefs = [clef for measure in measures for clef in measure.iterfind("attributes/clef")]
    if not clefs:
        return 34
    clef = clefs[-1]
    sign, line = (clef.findtext("sign") or "G").strip(), int(clef.findtext("line") or 2)
    octave = 7 * int(clef.findtext("clef-octave-change") or 0)
    return _LETTER_STEPS.get(sign, 32) + 2 * (3 - line) + octave


def _short_name(root: Element, part: Part) -> str:
    listed = listed_part(root, part_element(root, part))
    short = (listed.findtext("part-abbreviation") or "").strip() if listed is not None else ""
    return short or part.name


def _write(measure: Element, bar: Bar, part: Part, solo: Part, divisions: int, shift: int, label: str) -> None:
    """Put one bar of the cue before the rest of a bar, the cursor back at its start, and its name over it."""
    one_rest(measure)
    events = _line(part, bar.index, bar.index)
    notes = list(_notes(events, bar, solo, divisions, shift))
    place = next((index for index, child in enumerate(measure) if child.tag in ("note", "forward")), len(measure))
    back = new("measure")
    forward(back, int(bar.length_q * divisions), "backup")
    measure[place:place] = [
        *([words(label, "above", font_style="italic", font_size="8")] if label else []),
        *notes,
        *back,
    ]
    beam_bar(measure, bar, divisions, {_VOICE})


def _notes(events: Sequence[Event], bar: Bar, solo: Part, divisions: int, shift: int) -> Iterator[Element]:
    holds = InForce(solo.key_at(bar.onset_q))
    at_q = bar.onset_q
    for event in events:
        gap = new("measure")
        forward(gap, int((event.onset_q - at_q) * divisions))
        yield from children(gap)
        yield _note(event, solo, holds, int(event.duration_q * divisions), shift)
        at_q = event.end_q
    gap = new("measure")
    forward(gap, int((bar.onset_q + bar.length_q - at_q) * divisions))
    yield from children(gap)


def _note(event: Event, solo: Part, holds: InForce, duration: int, shift: int) -> Element:
    pitch = _written(solo, event) if event.notes else None
    moved = pitch._replace(octave=pitch.octave + shift // 7) if pitch else None
    tuplet = (event.tuplet.denominator, event.tuplet.numerator) if event.tuplet != Fraction(1) else None
    look = Look(event.type_name or "", event.dots, tuplet, holds.needed(moved) if moved else "", "up" if moved else "")
    note = new_note(moved, duration, look, voice=_VOICE)
    put(note, new("cue"))
    kind = note.find("type")
    if kind is not None:
        kind.set("size", "cue")
    return note
