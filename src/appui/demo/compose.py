"""Makes the demos' scores, ``ferry.musicxml`` and its like, from the music in ``ferry.toml`` …: the same bytes always.

    python -m appui.demo.compose

MusicXML 4.0, score-partwise (schema/musicxml.xsd, read). Small notes carry no playback attributes: how each is
played is what the page leaves open. Nothing of it is taken from an existing piece.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from appui.demo import bare_andante, demo_score, figured_sonata, lead_sheet
from appui.demo.music import ALTERS, VALUES, Music, Part, Small, Word, read_music, split_pitch
from appui.exact import Fraction

__all__ = ["SCORE", "main", "score_bytes"]

SCORE = demo_score()
DIVISIONS = 4
_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_ACCIDENTALS = {-1: "flat", 0: "natural", 1: "sharp"}
_ARTICULATIONS = {">": "accent", "'": "staccato", "-": "tenuto"}
_KINDS = {"": "major", "m": "minor", "7": "dominant"}
_CHORD = re.compile(r"(?P<root>[A-G][#b]?)(?P<kind>m|7|)(?:/(?P<bass>[A-G][#b]?))?")
_FLAGS = {"e": 1, "s": 2}
_FLATS, _SHARPS = "BEADGCF", "FCGDAEB"
#  slur numbers: a phrase; within it a small note to its main note; a main note to its after-notes
_PHRASE, _GRACE, _AFTER = "1", "2", "3"


class _Accidentals:
    """Which accidentals one bar of one part needs: where a pitch differs from the key or from the last of its line."""

    def __init__(self, fifths: int) -> None:
        letters = _SHARPS[:fifths] if fifths > 0 else _FLATS[:-fifths]
        self._key = dict.fromkeys(letters, 1 if fifths > 0 else -1)
        self._seen: dict[tuple[str, int], int] = {}

    def printed(self, pitch: str) -> str | None:
        """The accidental to print before the next note, or `None`."""
        letter, alter, octave = split_pitch(pitch)
        before = self._seen.get((letter, octave), self._key.get(letter, 0))
        self._seen[letter, octave] = alter
        return None if before == alter else _ACCIDENTALS[alter]


def add(parent: Element, tag: str, content: object = None, **attributes: str) -> Element:
    """A child element; a hyphen in an attribute's name is written as an underscore."""
    child = SubElement(parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    if content is not None:
        child.text = str(content)
    return child


def score_bytes(music: Music) -> bytes:
    """The score as a MusicXML file."""
    root = Element("score-partwise", version="4.0")
    _identification(root, music)
    _part_list(root, music)
    for number, part in enumerate(music.parts, 1):
        node = add(root, "part", id=f"P{number}")
        for bar in range(len(part.bars)):
            _measure(node, music, part, bar)
    indent(root, "  ")
    return (_HEAD + tostring(root, encoding="unicode") + "\n").encode()


def _identification(root: Element, music: Music) -> None:
    add(root, "movement-title", f"{music.facts['title']}: {music.facts['subtitle']}")
    node = add(root, "identification")
    add(node, "creator", music.facts["composer"], type="composer")
    add(add(node, "encoding"), "software", "appui")


def _part_list(root: Element, music: Music) -> None:
    node = add(root, "part-list")
    for number, part in enumerate(music.parts, 1):
        if number == 2 and len(music.parts) > 2:
            group = add(node, "part-group", type="start", number="1")
            add(group, "group-symbol", "bracket")
            add(group, "group-barline", "yes")
        _score_part(node, f"P{number}", number, part)
    if len(music.parts) > 2:
        add(node, "part-group", type="stop", number="1")


def _score_part(parent: Element, name: str, channel: int, part: Part) -> None:
    node = add(parent, "score-part", id=name)
    add(node, "part-name", part.name)
    add(node, "part-abbreviation", part.facts["short"])
    instrument = add(node, "score-instrument", id=f"{name}-I1")
    add(instrument, "instrument-name", part.name)
    add(instrument, "instrument-sound", part.facts["sound"])
    midi = add(node, "midi-instrument", id=f"{name}-I1")
    add(midi, "midi-channel", channel)
    add(midi, "midi-program", part.facts["program"])


def _measure(parent: Element, music: Music, part: Part, bar: int) -> None:
    number = bar + 1
    node = add(parent, "measure", number=str(number))
    repeat = music.facts.get("repeat", (0, 0))
    if number == repeat[0]:
        _barline(node, "left", "heavy-light", "forward")
    if bar == 0:
        _attributes(node, music, part)
    accidentals = _Accidentals(music.facts["fifths"])
    words = part.bars[bar]
    directions = sorted(_directions(music, part, number), key=lambda item: item[0])
    rows = part.facts["figures"][bar].split() if "figures" in part.facts else ["."] * len(words)
    beams = _beams([(w.onset_q, _flags(w)) for w in words])
    for word, beam, row in zip(words, beams, rows, strict=True):
        while directions and directions[0][0] < word.onset_q + word.duration_q:
            at_q, direction = directions.pop(0)
            _place(node, direction, at_q - word.onset_q)
        _figures(node, row, word.duration_q)
        _word(node, word, beam, accidentals, tied=_tied(part, bar, word))
    if number == repeat[1]:
        _barline(node, "right", "light-heavy", "backward")
    elif bar + 1 == len(part.bars):
        _barline(node, "right", "light-heavy")
    elif number in music.facts.get("double_bars", ()):
        _barline(node, "right", "light-light")


def _barline(parent: Element, location: str, style: str, repeat: str | None = None) -> None:
    node = add(parent, "barline", location=location)
    add(node, "bar-style", style)
    if repeat:
        add(node, "repeat", direction=repeat)


def _attributes(parent: Element, music: Music, part: Part) -> None:
    node = add(parent, "attributes")
    add(node, "divisions", DIVISIONS)
    key = add(node, "key")
    add(key, "fifths", music.facts["fifths"])
    add(key, "mode", music.facts.get("mode", "major"))
    time = add(node, "time")
    add(time, "beats", music.facts["beats"])
    add(time, "beat-type", 4)
    clef = add(node, "clef")
    add(clef, "sign", part.facts["clef"][0])
    add(clef, "line", part.facts["clef"][1])


def _directions(music: Music, part: Part, number: int) -> Iterator[tuple[Fraction, Element]]:
    """What is printed over or under one bar of a part, each with its onset in the bar."""
    if number == 1 and part is music.parts[0]:
        yield Fraction(0), _tempo(music)
    for table, make in (("words", _words), ("dynamics", _dynamics)):
        for bar, beat, text in part.facts.get(table, ()):
            if bar == number:
                yield Fraction(beat - 1), make(text)
    for entry in part.facts["chords"][number - 1].split() if "chords" in part.facts else ():
        beat_text, symbol = entry.split(":")
        yield Fraction(int(beat_text) - 1), _chord(symbol)
    for kind, bar, beat, end_bar, end_beat in part.facts.get("hairpins", ()):
        # a hairpin that reaches the next bar's mark ends at the barline before it
        if end_bar == number and end_beat > 1:
            yield Fraction(end_beat - 1), _wedge("stop")
        if bar == number:
            yield Fraction(beat - 1), _wedge(kind)
        if end_bar == number + 1 and end_beat == 1:
            yield Fraction(music.facts["beats"]) - Fraction(1, DIVISIONS), _wedge("stop")


def _place(parent: Element, direction: Element, offset_q: Fraction) -> None:
    """Put a direction before the note being written, its time given by `offset` where it is later."""
    if offset_q:
        offset = Element("offset")
        offset.text = str(int(offset_q * DIVISIONS))
        # an offset stands after a direction's type and after all of a chord symbol
        direction.insert(len(direction) if direction.tag == "harmony" else 1, offset)
    parent.append(direction)


def _chord(symbol: str) -> Element:
    """A chord symbol such as ``Gm/Bb``."""
    match = _CHORD.fullmatch(symbol)
    if match is None:
        raise ValueError(f"{symbol!r} is no chord symbol")
    node = Element("harmony")
    _letter(add(node, "root"), "root", match["root"])
    add(node, "kind", _KINDS[match["kind"]], text=match["kind"])
    if match["bass"]:
        _letter(add(node, "bass"), "bass", match["bass"])
    return node


def _letter(parent: Element, name: str, letter: str) -> None:
    add(parent, f"{name}-step", letter[0])
    if letter[1:]:
        add(parent, f"{name}-alter", ALTERS[letter[1:]])


def _figures(parent: Element, rows: str, duration_q: Fraction) -> None:
    """Figures under a note: ``6/5``, ``7/#``, ``4>3`` one after the other, ``.`` none."""
    each = [] if rows == "." else rows.split(">")
    for row in each:
        node = add(parent, "figured-bass")
        for word in row.split("/"):
            figure = add(node, "figure")
            if word[0] in "#b":
                add(figure, "prefix", _ACCIDENTALS[ALTERS[word[0]]])
            if word.lstrip("#b"):
                add(figure, "figure-number", word.lstrip("#b"))
        add(node, "duration", duration_q * DIVISIONS / len(each))


def _direction(placement: str) -> tuple[Element, Element]:
    node = Element("direction", placement=placement)
    return node, add(node, "direction-type")


def _tempo(music: Music) -> Element:
    node, kind = _direction("above")
    add(kind, "words", music.facts["tempo"], font_weight="bold")
    metronome = add(add(node, "direction-type"), "metronome")
    add(metronome, "beat-unit", "quarter")
    add(metronome, "per-minute", music.facts["quarter"])
    add(node, "sound", tempo=str(music.facts["quarter"]))
    return node


def _words(text: str) -> Element:
    node, kind = _direction("below")
    add(kind, "words", text, font_style="italic")
    return node


def _dynamics(mark: str) -> Element:
    node, kind = _direction("below")
    add(add(kind, "dynamics"), mark)
    return node


def _wedge(kind: str) -> Element:
    node, parent = _direction("below")
    add(parent, "wedge", type=kind)
    return node


def _flags(word: Word) -> int:
    return 0 if word.rest else _FLAGS.get(word.value, 0)


def _beams(notes: list[tuple[Fraction, int]]) -> list[tuple[str, ...]]:
    """Beams of notes given as onset and flags: one text a level, empty where a note stands alone.

    Beams join what lies in one beat, or a whole bar of eighths.
    """
    whole = len(notes) == 6 and all(flags == 1 for _, flags in notes)
    groups = [None if not flags else 0 if whole else int(onset_q) for onset_q, flags in notes]
    beams: list[tuple[str, ...]] = []
    for index, group in enumerate(groups):
        back = index > 0 and group is not None and groups[index - 1] == group
        on = index + 1 < len(groups) and group is not None and groups[index + 1] == group
        text = {(False, True): "begin", (True, True): "continue", (True, False): "end"}.get((back, on))
        beams.append((text,) * notes[index][1] if text else ())
    return beams


def _tied(part: Part, bar: int, word: Word) -> bool:
    """Whether a tie leads to the first note of a bar from the last of the bar before."""
    return word.onset_q == 0 and bar > 0 and "_" in part.bars[bar - 1][-1].marks


def _word(parent: Element, word: Word, beam: tuple[str, ...], accidentals: _Accidentals, *, tied: bool) -> None:
    _small(parent, word.before, accidentals)
    node = add(parent, "note")
    _pitch(node, word.pitch)
    add(node, "duration", word.duration_q * DIVISIONS)
    ties = [kind for kind, there in (("stop", tied), ("start", "_" in word.marks)) if there]
    for kind in ties:
        add(node, "tie", type=kind)
    _look(node, word.value, beam, None if word.rest or tied else accidentals.printed(word.pitch), dotted=word.dotted)
    _notations(node, word, ties)
    _small(parent, word.after, accidentals, after=True)


def _pitch(node: Element, pitch: str) -> None:
    if pitch == "r":
        add(node, "rest")
        return
    letter, alter, octave = split_pitch(pitch)
    inner = add(node, "pitch")
    add(inner, "step", letter)
    if alter:
        add(inner, "alter", alter)
    add(inner, "octave", octave)


def _look(
    node: Element, value: str, beam: tuple[str, ...], accidental: str | None, *, dotted: bool = False, stem: str = ""
) -> None:
    add(node, "voice", 1)
    add(node, "type", VALUES[value][0])
    if dotted:
        add(node, "dot")
    if accidental:
        add(node, "accidental", accidental)
    if stem:
        add(node, "stem", stem)
    for level, text in enumerate(beam, 1):
        add(node, "beam", text, number=str(level))


def _notations(node: Element, word: Word, ties: list[str]) -> None:
    notations = Element("notations")
    for kind in ties:
        add(notations, "tied", type=kind)
    slurs = [
        ("stop", _GRACE, bool(word.before)),
        ("stop", _PHRASE, word.closes),
        ("start", _PHRASE, word.opens),
        ("start", _AFTER, bool(word.after)),
    ]
    for kind, number, there in slurs:
        if there:
            add(notations, "slur", type=kind, number=number)
    if "~" in word.marks:
        add(add(notations, "ornaments"), "trill-mark", placement="above")
    articulations = [name for mark, name in _ARTICULATIONS.items() if mark in word.marks]
    if articulations:
        add(add(notations, "articulations"), articulations[0])
    if "^" in word.marks:
        add(notations, "fermata", type="upright")
    if len(notations):
        node.append(notations)


def _small(parent: Element, small: tuple[Small, ...], accidentals: _Accidentals, *, after: bool = False) -> None:
    """Small notes, slurred to the note they belong to."""
    beams = _beams([(Fraction(0), _FLAGS.get(note.value, 0)) for note in small])
    for index, (note, beam) in enumerate(zip(small, beams, strict=True)):
        node = add(parent, "note")
        add(node, "grace", **({"slash": "yes"} if note.slashed else {}))
        _pitch(node, note.pitch)
        _look(node, note.value, beam, accidentals.printed(note.pitch), stem="up")
        slur = ("stop" if index + 1 == len(small) else "") if after else ("start" if index == 0 else "")
        if slur:
            add(add(node, "notations"), "slur", type=slur, number=_AFTER if after else _GRACE)


def main(arguments: list[str] | None = None) -> None:
    """Write the scores beside this file, or the demo's to the path given."""
    given: list[Any] = sys.argv[1:] if arguments is None else arguments
    if given:
        Path(given[0]).write_bytes(score_bytes(read_music()))
        return
    for score in (SCORE, figured_sonata(), lead_sheet(), bare_andante()):
        score.write_bytes(score_bytes(read_music(score.with_suffix(".toml"))))


if __name__ == "__main__":
    main()
