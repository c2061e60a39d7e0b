"""A way of playing as a musician would pencil it in: by the usual short signs, where its exact notes are hard to read.

- short: one small note with a stroke through its stem;
- before the beat: small notes without a stroke, before the barline where they take their time from the bar before;
- after-notes: as they are printed, which says it all;
- a trill: its sign, with the first note as a small note where that is the upper one, and its ending as two small notes.

These are modern editorial habits (common practice, no source). All else is written out in exact notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher

from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import realize
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, new, put
from appui.realize.contract import Tone
from appui.score.model import Part
from appui.score.pitch import Pitch
from appui.score.repeats import once
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["CHANGED", "mark_changes", "may_be_short", "shortened"]

#  a changed note's name in a picture: this and a number
CHANGED = "changed-"
_TRILLS = ("trill", "shake")
_FROM = ("upper", "main")


def may_be_short(sign: Sign, reading: Reading) -> bool:
    """Whether there may be a short way to write a reading."""
    if sign.kind == "small notes":
        return reading.name in ("short", "before")
    if sign.kind == "after-notes":
        return reading.name == "after"
    whole = reading.get("start") in _FROM and reading.get("shape") != "half"
    return sign.kind in _TRILLS and reading.name == "trill" and whole


def shortened(interpretation: Interpretation, sign: Sign, words: str, root: Element, before: int) -> bool:
    """Write a reading that may be short into a score of some bars as printed; whether there is a short way.

    `before` is the number of notes in the part's bars before those.
    """
    reading = interpretation.reading(sign.place, words)
    notes, number = root.findall("part/measure/note"), sign.main(interpretation.score).ordinal - before
    if not 0 <= number < len(notes):
        return False
    if sign.kind == "after-notes":
        return True
    return _small(notes[number], reading) if sign.small else _trill(interpretation, sign, reading, notes[number])


def _small(main: Element, reading: Reading) -> bool:
    """The small notes before a main note, with a stroke or before the barline."""
    small: list[Element] = []
    for node in main.itersiblings("note", preceding=True):
        if node.find("grace") is None:
            break
        small.insert(0, node)
    single = len([node for node in small if node.find("chord") is None]) == 1
    if not small or (reading.name == "short" and not single):
        return False
    if reading.name == "before":
        return _before_the_barline(small)
    _grace(small[0]).set("slash", "yes")
    for flag in small[0].iter("type"):
        flag.text = "eighth"
    return True


def _grace(node: Element) -> Element:
    """The mark of a small note."""
    found = node.find("grace")
    return found if found is not None else put(node, new("grace"))


def _before_the_barline(small: Sequence[Element]) -> bool:
    """Small notes that begin a bar go to the end of the bar before, where there is one; no others can be told apart."""
    measure = small[0].getparent()
    earlier = measure.getprevious() if measure is not None and measure.find("note") is small[0] else None
    if earlier is None or earlier.tag != "measure":
        return False
    last = earlier.findall("note")
    for node in small:
        _grace(node).attrib.pop("slash", "")
    place = earlier.index(last[-1]) + 1 if last else len(earlier)
    for number, node in enumerate(small):
        earlier.insert(place + number, node)
    return True


def _trill(interpretation: Interpretation, sign: Sign, reading: Reading, main: Element) -> bool:
    """A trill's first note and its ending as small notes, its sign as it is printed."""
    tones = _tones(interpretation, sign, reading)
    if len(tones) < 4:
        return False
    part = interpretation.score.parts[sign.part]
    if reading.get("start") == "upper":
        main.addprevious(_note(interpretation, part, sign, tones[0].pitch, main))
    if reading.get("termination") == "yes":
        after = main
        for tone in tones[-2:]:
            note = _note(interpretation, part, sign, tone.pitch, main)
            after.addnext(note)
            after = note
    return True


def _tones(interpretation: Interpretation, sign: Sign, reading: Reading) -> list[Tone]:
    bar = sign.main(interpretation.score).bar
    order = once(interpretation.score.bars, bar, bar)
    tones = realize(interpretation, order, {sign.place: reading}, [sign.part]).tones[sign.part]
    return [tone for tone in tones if tone.sign == sign.place]


def _note(interpretation: Interpretation, part: Part, sign: Sign, sounding: Pitch, main: Element) -> Element:
    """A small note of a sounding pitch beside a main note."""
    onset_q = sign.main(interpretation.score).onset_q
    written = part.transposition_at(onset_q).written(sounding)
    note = new("note")
    add(note, "grace", slash="no")
    pitch = add(note, "pitch")
    add(pitch, "step", written.step)
    if written.alter:
        add(pitch, "alter", written.alter)
    add(pitch, "octave", written.octave)
    for name in ("voice", "staff"):
        if (text := main.findtext(name)) is not None:
            put(note, new(name, text))
    put(note, new("type", "16th"))
    if written.alter != part.key_at(onset_q).alter(written.step):
        put(note, new("accidental", _ACCIDENTALS.get(int(written.alter), "natural")))
    return note


_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


def mark_changes(root: Element, printed: Element) -> int:
    """Name the notes of some bars that are not as printed, `CHANGED` and a number; returns how many there are."""
    notes, others = root.findall("part/measure/note"), printed.findall("part/measure/note")
    matcher = SequenceMatcher(None, [_look(note) for note in others], [_look(note) for note in notes], autojunk=False)
    changed = [
        note
        for kind, _, _, start, end in matcher.get_opcodes()
        if kind in ("insert", "replace")
        for note in notes[start:end]
        if note.find("rest") is None
    ]
    for number, note in enumerate(changed):
        note.set("id", f"{CHANGED}{number}")
    return len(changed)


def _look(note: Element) -> tuple[str, ...]:
    """What of a note is seen on the page; of a small one also in which bar it stands."""
    grace, bar = note.find("grace"), note.getparent()
    small = "" if grace is None or bar is None else f"{grace.get('slash') or 'no'} {bar.get('number')}"
    said = [note.findtext(name) or "" for name in ("pitch/step", "pitch/octave", "pitch/alter", "type")]
    return (small, *said, str(len(note.findall("dot"))))
