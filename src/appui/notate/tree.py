"""The tree of a score file with a part written out: above the solo, as a small staff over it, or in its place.

The file's own tree stays as it is: layout, credits, comments, elements nobody here knows. A timewise score is turned
round first. In the part that is written out, divisions are made fine enough; in the others nothing changes.

Ways to keep the print
    ``above``: the whole written-out line as a part of its own above the solo. ``ossia``: the same, smaller, and only
    the bars that differ are there and printed (`print-object` and `staff-size`, MusicXML 4.0, read). ``replace``: the
    solo itself is written out. A line beside the solo is silent (volume 0), so that a player of the file hears one.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from math import lcm

from lxml import etree

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.notate.beams import set_accidentals, set_beams
from appui.notate.cut import cut_bars, unslur
from appui.notate.engrave import Element, put_into
from appui.notate.line import Line, line_within, written_line
from appui.notate.wait import let_wait, refine
from appui.score.model import Part, Score

__all__ = ["KEEPS", "PART_ID", "label", "part_element", "partwise", "rewrite", "tree_text", "with_line"]

KEEPS = ("ossia", "replace", "above")
PART_ID = "appui-written-out"
_OSSIA_PERCENT = 65
_NOT_COPIED = ("direction", "harmony", "figured-bass", "sound", "print", "listening")
_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML {} Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


def partwise(root: Element) -> Element:
    """The tree as a partwise score; a timewise one is turned round, all else kept."""
    if root.tag == "score-partwise":
        return root
    new = etree.Element("score-partwise", dict(root.attrib))
    measures = root.findall("measure")
    names = dict.fromkeys(part.get("id") or "" for measure in measures for part in measure.iterfind("part"))
    for child in list(root):
        if child.tag != "measure":
            new.append(child)
    for name in names:
        part = etree.SubElement(new, "part", id=name)
        for measure in measures:
            # a bar that a part does not have is there and empty, as the reader has it
            bar = etree.SubElement(part, "measure", dict(measure.attrib))
            for inner in [each for each in measure.iterfind("part") if (each.get("id") or "") == name]:
                bar.extend(list(inner))
    return new


def part_element(root: Element, part: Part) -> Element:
    """The element of a part: parts are counted, since two may have the same id."""
    return root.findall("part")[part.index]


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
    copied = _copied(element)
    _listed(root, element, part, keep)
    copied.set("id", PART_ID)
    _renamed(copied)
    element.addprevious(copied)
    return copied


def rewrite(element: Element, score: Score, line: Line) -> None:
    """Write the line into the element of its part."""
    divisions = refine(element, _denominator(line), score.file)
    notes = [note for measure in element.iterfind("measure") for note in measure.iterfind("note")]
    _unchorded(notes, line.part)
    voices = {id(slot): (notes[slot.event.ordinal].findtext("voice") or "").strip() for slot in line.slots}
    new = put_into(element, line, divisions)
    measures = element.findall("measure")
    changed: dict[int, set[str]] = {}
    for slot in line.slots:
        changed.setdefault(slot.event.bar, set()).add(voices[id(slot)])
    for bar, names in changed.items():
        key = line.part.key_at(score.bars[bar].onset_q)
        set_beams(measures[bar], score.bars[bar], divisions, names)
        set_accidentals(measures[bar], divisions, key, new)


def _unchorded(notes: Sequence[Element], part: Part) -> None:
    """No note that is read as one of its own says that it is in a chord, whatever is written before it now."""
    events = [event for voice in part.voices for event in voice.events]
    ordinals = [small.ordinal for event in events for small in (*event.small_before, *event.small_after)]
    for ordinal in (each for each in (*ordinals, *(event.ordinal for event in events)) if each >= 0):
        for chord in notes[ordinal].findall("chord"):
            notes[ordinal].remove(chord)


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
    copied = deepcopy(element)
    copied.tail = element.tail
    for measure in copied.iterfind("measure"):
        for child in list(measure):
            if child.tag == "print" and _breaks(child):
                continue
            if not isinstance(child.tag, str) or child.tag in _NOT_COPIED:
                measure.remove(child)
    for node in copied.iter():
        # an id may stand once in a document
        if isinstance(node.tag, str) and node is not copied and "id" in node.attrib and node.tag != "instrument":
            del node.attrib["id"]
    return copied


def _breaks(node: Element) -> bool:
    """Leave of a `print` element that it begins a system or page, which readers take from the first part."""
    for child in list(node):
        node.remove(child)
    for name in [name for name in node.attrib if name not in ("new-system", "new-page")]:
        del node.attrib[name]
    return bool(node.attrib)


def _score_part(root: Element, element: Element) -> Element | None:
    """The line of a part in the part list: ids may repeat, then the order tells."""
    own_id = element.get("id") or ""
    same = [part for part in root.iterfind("part") if (part.get("id") or "") == own_id]
    listed = [node for node in root.iterfind("part-list/score-part") if (node.get("id") or "") == own_id]
    return listed[min(same.index(element), len(listed) - 1)] if listed else None


def _listed(root: Element, element: Element, part: Part, keep: str) -> None:
    """A line of its own in the part list, above the solo's."""
    solo = _score_part(root, element)
    new = deepcopy(solo) if solo is not None else etree.Element("score-part")
    new.set("id", PART_ID)
    new.tail = solo.tail if solo is not None else None
    name = new.find("part-name")
    if name is None:
        name = etree.SubElement(new, "part-name")
    name.text = f"{part.name}, {'ossia' if keep == 'ossia' else 'written out'}"
    for tag in ("part-name-display", "part-abbreviation", "part-abbreviation-display"):
        for node in new.findall(tag):
            new.remove(node)
    _renamed(new)
    _silent(new)
    if solo is not None:
        solo.addprevious(new)
    else:
        _part_list(root).insert(0, new)


def _part_list(root: Element) -> Element:
    found = root.find("part-list")
    if found is None:
        # lawful for our reader only
        found = etree.Element("part-list")
        root.find("part").addprevious(found)
    return found


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
            volume = etree.Element("volume")
            pan = next((child for child in midi if child.tag in ("pan", "elevation")), None)
            if pan is not None:
                pan.addprevious(volume)
            else:
                midi.append(volume)
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
            attributes = measure.find("attributes")
            if attributes is None:
                attributes = etree.Element("attributes")
                measure.insert(0, attributes)
            details = etree.Element("staff-details", {"print-object": "yes" if shown else "no"})
            etree.SubElement(details, "staff-type").text = "ossia"
            if index == 0:
                etree.SubElement(details, "staff-size").text = str(_OSSIA_PERCENT)
            _after(attributes, details)


def _emptied(measure: Element) -> None:
    """The bar with its time, and nothing in it."""
    for note in measure.findall("note"):
        if note.find("grace") is None and note.find("chord") is None:
            forward = etree.Element("forward")
            forward.append(deepcopy(note.find("duration")))
            note.addprevious(forward)
        measure.remove(note)


def _after(attributes: Element, details: Element) -> None:
    before = ("footnote", "level", "divisions", "key", "time", "staves", "part-symbol", "instruments", "clef")
    place = max((index + 1 for index, child in enumerate(attributes) if child.tag in before), default=0)
    attributes.insert(place, details)


def label(root: Element, interpretation: Interpretation) -> None:
    """Write the chord of each sign as text under the solo, where it is a new one: chord, figure, Roman numeral."""
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
        words = " ".join(filter(None, (verdict.label, verdict.figure and f"({verdict.figure})", verdict.roman)))
        said[event.ordinal] = "" if before == (event.bar, words) else words
        before = event.bar, words
    for ordinal, words in said.items():
        if words:
            direction = etree.Element("direction", placement="below")
            etree.SubElement(etree.SubElement(direction, "direction-type"), "words").text = words
            notes[ordinal].addprevious(direction)


def tree_text(root: Element) -> bytes:
    """The tree as a MusicXML file, of the version it says it is."""
    tree = root.getroottree()
    own = tree.docinfo.doctype
    doctype = own if "score-partwise" in own else _DOCTYPE.format(root.get("version", "1.0"))
    return etree.tostring(tree, xml_declaration=True, encoding="UTF-8", doctype=doctype)
