"""The tree of a score file with a part written out: above the solo, as a small staff over it, or in its place.

The file's own tree stays as it is: layout, credits, comments, elements nobody here knows. A timewise score is turned
round first. In the part that is written out, divisions are made fine enough; in the others nothing changes.

Ways to keep the print
    ``above``: the whole written-out line as a part of its own above the solo. ``ossia``: the same, smaller, and only
    the bars that differ are there and printed (`print-object` and `staff-size`, MusicXML 4.0, read). ``replace``: the
    solo itself is written out. A line beside the solo is silent (volume 0), so that a player of the file hears one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from copy import deepcopy
from math import lcm

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.musicxml.element import Element
from appui.musicxml.write.accidentals import print_accidentals
from appui.musicxml.write.beams import beam_bar
from appui.musicxml.write.build import add, children, copied, needed, new, put, remove
from appui.musicxml.write.cut import cut_bars, unslur
from appui.musicxml.write.direction import words
from appui.musicxml.write.head import part_list
from appui.musicxml.write.partwise import listed_part, part_element
from appui.musicxml.write.time import attributes_of, refine
from appui.musicxml.write.transpose import transpose_letter
from appui.notate.engrave import put_into
from appui.notate.line import Line, line_within, written_line
from appui.notate.wait import let_wait
from appui.score.model import Event, Part, Score

__all__ = ["KEEPS", "PART_ID", "label", "rewrite", "with_line"]

KEEPS = ("ossia", "replace", "above")
PART_ID = "appui-written-out"
_OSSIA_PERCENT = 65
#  the letters of a chord's name: its root, and its bass
_LETTER = re.compile(r"(?:^|(?<=/))[A-G](?:#|b)*")
_NOT_COPIED = ("direction", "harmony", "figured-bass", "sound", "print", "listening")


def with_line(
    root: Element, interpretation: Interpretation, keep: str = "above", bars: tuple[int, int] | None = None
) -> Line:
    """Write the interpretation's solo into a partwise tree, in one of the `KEEPS`; returns what was written.

    With `bars`, first and last index, the tree is cut to them, and signs that begin before them stay as printed.
    """
    part = interpretation.solo
    line = written_line(interpretation, part.index)
    if bars is not None:
        line = line_within(line, interpretation, *bars)
    element = part_element(root, part)
    written = element if keep == "replace" else _beside(root, element, part, keep)
    rewrite(written, interpretation.score, line)
    for slot in (slot for slot in line.slots if slot.extra_q):
        at_q = slot.event.end_q - interpretation.score.bars[slot.event.bar].onset_q
        for other in (each for each in root.iterfind("part") if each is not written):
            let_wait(other, slot.event.bar, at_q, slot.extra_q, interpretation.score.file, plain=other is element)
    first = bars[0] if bars is not None else 0
    if bars is not None:
        cut_bars(root, *bars, _tempo_before(interpretation.score, bars[0]))
    if keep == "ossia":
        _only(written, {slot.event.bar - first for slot in line.slots})
    return line


def _tempo_before(score: Score, bar: int) -> Fraction | None:
    """The tempo that lasts from earlier bars, in quarter notes a minute; `None` where the bar has one of its own."""
    onset_q = score.bars[bar].onset_q
    mark = score.tempo_at(onset_q)
    return mark.qpm if mark.onset_q < onset_q else None


def _beside(root: Element, element: Element, part: Part, keep: str) -> Element:
    """A copy of the solo as a part of its own, above it and in the part list."""
    twin = _copied(element)
    _listed(root, element, part, keep)
    twin.set("id", PART_ID)
    _renamed(twin)
    element.addprevious(twin)
    return twin


def rewrite(element: Element, score: Score, line: Line) -> None:
    """Write the line into the element of its part."""
    divisions = refine(element, _denominator(line), score.file)
    notes = [note for measure in element.iterfind("measure") for note in measure.iterfind("note")]
    _unchorded(notes, line.part)
    voices = {id(slot): (notes[slot.event.ordinal].findtext("voice") or "").strip() for slot in line.slots}
    fresh = put_into(element, line, divisions)
    measures = element.findall("measure")
    changed: dict[int, set[str]] = {}
    for slot in line.slots:
        changed.setdefault(slot.event.bar, set()).add(voices[id(slot)])
    for bar, names in changed.items():
        key = line.part.key_at(score.bars[bar].onset_q)
        beam_bar(measures[bar], score.bars[bar], divisions, names)
        print_accidentals(measures[bar], divisions, key, fresh)


def _unchorded(notes: Sequence[Element], part: Part) -> None:
    """No note that is read as one of its own says that it is in a chord, whatever is written before it now."""
    events = [event for voice in part.voices for event in voice.events]
    ordinals = [small.ordinal for event in events for small in (*event.small_before, *event.small_after)]
    for ordinal in (each for each in (*ordinals, *(event.ordinal for event in events)) if each >= 0):
        for chord in notes[ordinal].findall("chord"):
            remove(chord)


def _denominator(line: Line) -> int:
    """What the line's lengths, in quarter notes, are whole multiples of one over."""
    lengths = [
        value.look_q * slot.unit_q * (Fraction(t.normal, t.actual) if (t := piece.piece.tuplet) else 1)
        for slot in line.slots
        for piece in slot.pieces
        for value in piece.piece.values
    ]
    return lcm(*(length.denominator for length in lengths))


def _copied(element: Element) -> Element:
    """A part with its notes and bars, without what belongs to the whole score."""
    twin = deepcopy(element)
    for measure in twin.iterfind("measure"):
        kept = [child for child in children(measure) if child.tag not in _NOT_COPIED or _breaks(child)]
        measure[:] = kept
    for node in twin.iterdescendants("*"):
        # an id may stand once in a document
        if node.tag != "instrument":
            node.attrib.pop("id", "")
    return twin


def _breaks(node: Element) -> bool:
    """Leave of a `print` element that it begins a system or page, which readers take from the first part."""
    if node.tag != "print":
        return False
    node[:] = []
    for name in [name for name in node.attrib if name not in ("new-system", "new-page")]:
        del node.attrib[name]
    return bool(node.attrib)


def _listed(root: Element, element: Element, part: Part, keep: str) -> None:
    """A line of its own in the part list, above the solo's."""
    solo = listed_part(root, element)
    line = deepcopy(solo) if solo is not None else new("score-part")
    line.set("id", PART_ID)
    name = line.find("part-name")
    if name is None:
        name = put(line, new("part-name"))
    name.text = f"{part.name}, {'ossia' if keep == 'ossia' else 'written out'}"
    for tag in ("part-name-display", "part-abbreviation", "part-abbreviation-display"):
        for node in line.findall(tag):
            remove(node)
    _renamed(line)
    _silent(line)
    if solo is not None:
        solo.addprevious(line)
    else:
        part_list(root).insert(0, line)


def _renamed(part: Element) -> None:
    """Instruments of the new part, or of its notes, under ids of their own."""
    for node in part.iter("score-instrument", "midi-instrument", "midi-device", "instrument"):
        if node.get("id"):
            node.set("id", f"{PART_ID}-{node.get('id')}")


def _silent(part: Element) -> None:
    """The solo sounds already: a player of the file must not hear both."""
    for midi in part.iterfind("midi-instrument"):
        volume = midi.find("volume")
        if volume is None:
            volume = put(midi, new("volume"))
        volume.text = "0"


def _only(element: Element, bars: set[int]) -> None:
    """Leave the other bars empty, and ask for them not to be printed."""
    measures = element.findall("measure")
    hidden = [measure for index, measure in enumerate(measures) if index not in bars]
    unslur(element, [note for measure in hidden for note in measure.iterfind("note")])
    for measure in hidden:
        _emptied(measure)
    for index, measure in enumerate(measures):
        shown = index in bars
        if index == 0 or shown != ((index - 1) in bars):
            details = put(attributes_of(measure), new("staff-details", print_object="yes" if shown else "no"))
            add(details, "staff-type", "ossia")
            if index == 0:
                add(details, "staff-size", _OSSIA_PERCENT)


def _emptied(measure: Element) -> None:
    """The bar with its time, and nothing in it."""
    for note in measure.findall("note"):
        if note.find("grace") is None and note.find("chord") is None:
            forward = new("forward")
            forward.append(copied(needed(note, "duration")))
            note.addprevious(forward)
        measure.remove(note)


def label(root: Element, interpretation: Interpretation, *, written: bool = False) -> None:
    """Write the chord of each sign as text under the solo, where it is a new one: chord, figure, Roman numeral.

    Chords are named as they sound; `written`, as a player of the solo reads them.
    """
    element = part_element(root, interpretation.solo)
    notes = [note for measure in element.iterfind("measure") for note in measure.iterfind("note")]
    said: dict[int, str] = {}
    before = (-1, "")
    for sign in interpretation.signs:
        event = sign.main(interpretation.score)
        verdict = (
            interpretation.analysis.verdict(sign)
            if sign.part == interpretation.solo.index and event.ordinal >= 0
            else None
        )
        if verdict is None or not verdict.known or event.ordinal in said:
            continue
        chord = _read(interpretation, event, verdict.label) if written else verdict.label
        text = " ".join(filter(None, (chord, verdict.figure and f"({verdict.figure})", verdict.roman)))
        said[event.ordinal] = "" if before == (event.bar, text) else text
        before = event.bar, text
    for ordinal, text in said.items():
        if text:
            notes[ordinal].addprevious(words(text))


def _read(interpretation: Interpretation, event: Event, chord: str) -> str:
    """A chord's name, as the solo's player reads it at an event."""
    transposition = interpretation.solo.transposition_at(event.onset_q)
    return _LETTER.sub(lambda match: transpose_letter(match[0], transposition), chord)
