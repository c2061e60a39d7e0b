"""What stands over and under the staff: tempo, dynamics, words, road signs, chord symbols, figures, octave lines.

Source: MEI 5.0, modules cmn, shared and harmony (memory): `midi.bpm` counts quarter notes a minute, `mm` the notes that
`mm.unit` and `mm.dots` name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from appui.exact import Fraction
from appui.harmony.kinds import parse_symbol
from appui.mei.definitions import plain_text
from appui.mei.names import DURATIONS, Element
from appui.mei.places import Beside, Moment, Places
from appui.musicxml.read.numbers import decimal, integer
from appui.score.figured_bass import Text, parse_figures, stacked
from appui.score.model import Figure, FiguredBass, Jump, Note
from appui.score.pitch import Pitch
from appui.score.raw import RawEvent, RawTempo
from appui.score.road_words import road_word
from appui.score.tempo_words import tempo_word

__all__ = ["DIRECTIONS", "place_direction", "tempo_of_definition"]

MAX_QPM = 1000
_MARK = re.compile(r"\b(?:p{1,4}|f{1,4}|m[pf]|s?f{1,2}z?p{0,2}|rfz?|pf|fp)\b")
#  a note of a music font, and what it is said to equal
_METRONOME = re.compile(r"\s*[(\[]?\s*(?:[\ue000-\uf8ff]|[\w.]{1,8}\s*=).*")
_ROADS = {"segno": "segno", "coda": "coda", "dalSegno": "dalsegno", "daCapo": "dacapo", "fine": "fine"}
_HAIRPINS = {"cres": "crescendo", "dim": "diminuendo"}
#  figures of a music font (SMuFL 1.4, range "Figured bass", read in verovio's table of glyphs) as plain text
_FIGURES: dict[int, str] = {
    0xEA50: "0", 0xEA51: "1", 0xEA52: "2", 0xEA53: "2+", 0xEA54: "3", 0xEA55: "4", 0xEA56: "4+",
    0xEA57: "5", 0xEA58: "5+", 0xEA59: "5+", 0xEA5A: "5+", 0xEA5B: "6", 0xEA5C: "6+", 0xEA6F: "6+",
    0xEA5D: "7", 0xEA5E: "7+", 0xEA5F: "7+", 0xEA60: "8", 0xEA61: "9", 0xEA62: "9+",
    0xEA63: "bb", 0xEA64: "b", 0xEA65: "n", 0xEA66: "#", 0xEA67: "##", 0xEA6C: "+",
    0xE260: "b", 0xE261: "n", 0xE262: "#", 0xE263: "##", 0xE264: "bb",
    **{ord(sign): "" for sign in "[]() "},
}  # fmt: skip


def _at(places: Places, beside: Beside) -> Moment | None:
    return places.start(beside)


def _staff(beside: Beside, moment: Moment) -> int | None:
    return None if beside.both or moment.part.raw.staves == 1 else moment.staff.number


def _dynamic(places: Places, beside: Beside) -> None:
    moment = _at(places, beside)
    text = plain_text(beside.node)
    if moment is None or not text:
        return
    for mark in _MARK.findall(text):
        moment.part.raw.dynamics.append((moment.bar, moment.at_q, mark, None, _staff(beside, moment)))
    rest = _MARK.sub("", text).strip()
    if rest:
        _words(moment, rest)


def _hairpin(places: Places, beside: Beside) -> None:
    moment, kind = _at(places, beside), _HAIRPINS.get(beside.node.get("form") or "")
    end = None if moment is None else places.end(beside, moment.staff)
    if moment is None or kind is None:
        return
    if end is None:
        places.page.notice(moment.staff, beside.node, "a hairpin begins and never ends: left out")
    elif (moment.bar, moment.at_q) < (end.bar, end.at_q):
        moment.part.raw.hairpins.append((moment.bar, moment.at_q, end.bar, end.at_q, kind, _staff(beside, moment)))


def _tempo(places: Places, beside: Beside) -> None:
    moment = _at(places, beside)
    if moment is None:
        return
    text = _METRONOME.sub("", plain_text(beside.node))
    for rank, qpm in _tempos(places, beside.node):
        moment.part.raw.tempos.append(RawTempo(moment.bar, moment.at_q, qpm, rank))
    _said(moment, text)


def _tempos(places: Places, node: Element) -> Iterator[tuple[int, Fraction]]:
    where, line = places.page.where, node.sourceline
    if node.get("midi.bpm"):
        yield 0, decimal(node.get("midi.bpm"), "midi.bpm", where, line, 1, MAX_QPM)
    if node.get("mm"):
        unit = DURATIONS.get(node.get("mm.unit") or "4")
        number = re.search(r"\d+(?:\.\d+)?", node.get("mm") or "")
        if unit is not None and number is not None:
            dots = integer(node.get("mm.dots") or "0", "mm.dots", where, line, 0, 8)
            qpm = unit[0] * (2 - Fraction(1, 2**dots)) * decimal(number[0], "mm", where, line, 0, 10**6)
            if not 1 <= qpm <= MAX_QPM:
                raise where.error(
                    f"a tempo of {float(qpm):g} quarter notes a minute", f"give one of 1 to {MAX_QPM}", line
                )
            yield 1, qpm


def tempo_of_definition(places: Places, node: Element, moment: Moment) -> None:
    """The tempo among the attributes of a `scoreDef`."""
    for rank, qpm in _tempos(places, node):
        moment.part.raw.tempos.append(RawTempo(moment.bar, moment.at_q, qpm, rank))


def _direction(places: Places, beside: Beside) -> None:
    moment, text = _at(places, beside), plain_text(beside.node)
    if moment is not None and text:
        _words(moment, text)


def _words(moment: Moment, text: str) -> None:
    if text:
        moment.part.raw.texts.append(Text(moment.bar, moment.at_q, Fraction(0), text, lyric=False))
        _said(moment, text)


def _said(moment: Moment, text: str) -> None:
    """What words say: a tempo, a leap."""
    if tempo_word(text):
        moment.part.raw.tempos.append(RawTempo(moment.bar, moment.at_q, None, 2, text))
    kind = road_word(text)
    if kind is not None:
        _jump(moment, kind)


def _jump(moment: Moment, kind: str) -> None:
    jumps = moment.part.raw.bars[moment.bar].jumps
    if not any(jump.kind == kind for jump in jumps):
        jumps.append(Jump(kind))


def _road_sign(places: Places, beside: Beside) -> None:
    moment, kind = _at(places, beside), _ROADS.get(beside.node.get("func") or "")
    if moment is not None and kind is not None:
        _jump(moment, kind)
    _direction(places, beside)


def _harmony(places: Places, beside: Beside) -> None:
    moment, node = _at(places, beside), beside.node
    if moment is None:
        return
    figures = node.find("fb")
    if figures is not None:
        found = tuple(figure for each in figures.iterfind("f") for figure in _figures(each))
        if found:
            moment.part.raw.figures.append((moment.bar, moment.at_q, FiguredBass(Fraction(0), Fraction(0), found)))
        return
    text = plain_text(node)
    symbol = parse_symbol(text)
    if symbol is not None:
        moment.part.raw.chord_symbols.append((moment.bar, moment.at_q, symbol._replace(text=text)))
    elif text:
        places.page.notice(moment.staff, node, f"{text[:20]!r} is no chord symbol that is known: left out")


def _figures(node: Element) -> Iterator[Figure]:
    text = "".join(node.itertext()).translate(_FIGURES).strip()
    try:
        found = parse_figures(text) if text else ()
    except ValueError:
        return
    yield from (one for figure in found if figure.number or figure.prefix for one in stacked(figure))


def _octave(places: Places, beside: Beside) -> None:
    """A line that moves its notes by octaves, in files that do not say so note by note."""
    moment, node = _at(places, beside), beside.node
    end = None if moment is None else places.end(beside, moment.staff)
    if moment is None or end is None or places.page.octaves_said:
        return
    octaves = {"8": 1, "15": 2, "22": 3}.get(node.get("dis") or "8", 1)
    shift = -octaves if node.get("dis.place") == "below" else octaves
    first, last = (moment.bar, moment.at_q), (end.bar, end.at_q)
    for bar in range(moment.bar, end.bar + 1):
        for event in places.events(moment.part, bar):
            if event.staff == moment.staff.number and first <= (event.bar, event.at_q) <= last:
                _raise(event, shift)


def _raise(event: RawEvent, octaves: int) -> None:
    def moved(pitch: Pitch) -> Pitch:
        return pitch._replace(octave=pitch.octave + octaves)

    def note(each: Note) -> Note:
        return each._replace(written=moved(each.written), sounding=moved(each.sounding))

    event.notes = tuple(note(each) for each in event.notes)
    for side in ("before", "after"):
        group = getattr(event, side)
        raised = tuple(
            small._replace(written=tuple(map(moved, small.written)), sounding=tuple(map(moved, small.sounding)))
            for small in group
        )
        setattr(event, side, raised)


#  element -> what becomes of it
DIRECTIONS: dict[str, Callable[[Places, Beside], None]] = {
    "dynam": _dynamic,
    "hairpin": _hairpin,
    "tempo": _tempo,
    "dir": _direction,
    "reh": _direction,
    "repeatMark": _road_sign,
    "harm": _harmony,
    "octave": _octave,
}


def place_direction(places: Places, beside: Beside) -> None:
    """Put one of the `DIRECTIONS` where it belongs."""
    DIRECTIONS[beside.node.tag](places, beside)
