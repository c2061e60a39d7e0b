"""Beams and accidentals of a bar, set anew where its notes have changed.

Beams join what is shorter than a quarter within a beat (common practice, no source). An accidental is printed where a
note differs from what holds in the bar for its line or space: the signature, then what was printed before (any theory
primer; common practice). Accidentals that stand in the file stay.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from lxml import etree

from appui.exact import Fraction, fraction_of
from appui.score.model import Bar, Key

__all__ = ["set_accidentals", "set_beams"]

Element = Any  # lxml ships no types of its own

_LEVELS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6, "512th": 7, "1024th": 8}
_NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_BEFORE_BEAM = (
    "grace cue chord pitch unpitched rest duration tie instrument footnote level voice type dot accidental "
    "time-modification stem notehead notehead-text staff"
).split()
_BEFORE_ACCIDENTAL = _BEFORE_BEAM[: _BEFORE_BEAM.index("accidental")]


class _Placed(NamedTuple):
    at_q: Fraction
    length_q: Fraction
    note: Element


def _placed(measure: Element, divisions: int) -> Iterator[_Placed]:
    """The notes of a bar with their times; a chord note has that of its first note, a small note no length."""
    at = start = Fraction(0)
    for child in measure:
        told = child.findtext("duration") if isinstance(child.tag, str) else None
        length = fraction_of(told or "0") / divisions
        if child.tag == "note":
            if child.find("chord") is not None:
                yield _Placed(start, length, child)
                continue
            start = at
            yield _Placed(at, length, child)
            at += length
        elif child.tag == "backup":
            at -= length
        elif child.tag == "forward":
            at += length


def set_beams(measure: Element, bar: Bar, divisions: int, voices: set[str]) -> None:
    """Beam the notes of these voices by beats."""
    by_voice: dict[str, list[_Placed]] = {}
    for placed in _placed(measure, divisions):
        voice = (placed.note.findtext("voice") or "").strip()
        if voice in voices and placed.note.find("grace") is None:
            for beam in placed.note.findall("beam"):
                placed.note.remove(beam)
            if placed.note.find("chord") is None:
                by_voice.setdefault(voice, []).append(placed)
    for notes in by_voice.values():
        for group in _groups(notes, bar):
            _beam(group)


def _groups(notes: Sequence[_Placed], bar: Bar) -> Iterator[list[tuple[Element, int]]]:
    """Neighbours in one beat that have flags, each with how many."""
    group: list[tuple[Element, int]] = []
    beat: Fraction | int = -1
    for placed in notes:
        level = 0 if placed.note.find("rest") is not None else _LEVELS.get(placed.note.findtext("type") or "", 0)
        here = (placed.at_q + bar.lead_q) // bar.meter.beat_q
        if not level or here != beat:
            if len(group) > 1:
                yield group
            group = []
        if level:
            group.append((placed.note, level))
        beat = here
    if len(group) > 1:
        yield group


def _beam(group: Sequence[tuple[Element, int]]) -> None:
    for index, (note, level) in enumerate(group):
        before = group[index - 1][1] if index else 0
        after = group[index + 1][1] if index + 1 < len(group) else 0
        for number in range(1, level + 1):
            beam = etree.Element("beam", number=str(number))
            beam.text = _kind(before >= number, after >= number, index + 1 < len(group))
            _insert(note, beam, (*_BEFORE_BEAM, "beam"))


def _kind(before: bool, after: bool, ahead: bool) -> str:
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    return "forward hook" if ahead else "backward hook"


def set_accidentals(measure: Element, divisions: int, key: Key, new: set[Element]) -> None:
    """Print the accidentals that new notes need, and those that notes after them need because of them."""
    in_force: dict[tuple[str, str, str], int] = {}
    ordered = sorted(_placed(measure, divisions), key=lambda placed: placed.at_q)
    for _, _, note in ordered:
        step = note.findtext("pitch/step")
        alter = fraction_of(note.findtext("pitch/alter") or "0")
        if step is None or alter.denominator != 1:
            continue
        line = note.findtext("staff") or "1", step, note.findtext("pitch/octave") or ""
        tied = any(tie.get("type") == "stop" for tie in note.iterfind("tie"))
        differs = in_force.get(line, key.alter(step)) != alter
        if differs and not tied and note.find("accidental") is None and (note in new or line in in_force):
            accidental = etree.Element("accidental")
            accidental.text = _NAMES[int(alter)]
            _insert(note, accidental, _BEFORE_ACCIDENTAL)
        if not tied:
            in_force[line] = int(alter)


def _insert(note: Element, child: Element, before: Sequence[str]) -> None:
    place = 0
    for index, other in enumerate(note):
        if other.tag in before:
            place = index + 1
    note.insert(place, child)
