"""The MusicXML `note` element: plain notes, rests and small notes, with all that hangs on them.

Source: MusicXML 4.0, `schema/musicxml.xsd`, complex types note, grace, notations, ornaments (read).
One pass over the children fills a `Seen`; `appui.musicxml.read.walk` decides what becomes of it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from appui.exact import Fraction
from appui.musicxml.read.numbers import MAX_DIVISIONS, MAX_DURATION_Q, Where, decimal, integer
from appui.score.model import Ornament
from appui.score.pitch import LETTERS, Pitch

__all__ = ["ACCIDENTALS", "NOTE_VALUES", "Element", "Seen", "see_note"]

Element = Any  # the stubs of lxml have a wrong type for the line of an element, which the reader names throughout

NOTE_VALUES = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
    "256th": Fraction(1, 64),
    "512th": Fraction(1, 128),
    "1024th": Fraction(1, 256),
}

# accidental-value -> semitones; those with no whole number of semitones are left out and say nothing about a mark
ACCIDENTALS = {
    "sharp": 1,
    "natural": 0,
    "flat": -1,
    "double-sharp": 2,
    "sharp-sharp": 2,
    "flat-flat": -2,
    "double-flat": -2,
    "natural-sharp": 1,
    "natural-flat": -1,
    "triple-sharp": 3,
    "triple-flat": -3,
}


class Seen:
    """One `note` element as printed. Durations are in divisions, as in the file.

    What is not printed is looked up on the class: most notes have little, and making one costs a tenth of a dataclass.
    """

    ordinal: int = -1
    pitch: Pitch | None = None
    rest: bool = False
    unpitched: bool = False
    chord: bool = False
    grace: Element | None = None
    cue: bool = False
    hidden: bool = False
    duration: Fraction | int | None = None
    voice: str | None = None
    staff: int = 1
    type_name: str | None = None
    dots: int = 0
    tuplet: Fraction = Fraction(1)
    tie_start: bool = False
    tie_stop: bool = False
    instrument: str | None = None
    ornaments: tuple[Ornament, ...] = ()
    articulations: frozenset[str] = frozenset()
    pauses: frozenset[str] = frozenset()
    slur_starts: tuple[str, ...] = ()
    slur_stops: tuple[str, ...] = ()
    fermata: str | None = None
    dynamics: tuple[str, ...] = ()
    lyrics: tuple[str, ...] = ()
    percent: Fraction | None = None
    attack: Fraction = Fraction(0)
    release: Fraction = Fraction(0)

    def __init__(self, line: int) -> None:
        self.line = line

    @property
    def value_q(self) -> Fraction | None:
        """The printed note value with its dots; `None` where no type is printed."""
        base = NOTE_VALUES.get(self.type_name or "")
        return base * (2 - Fraction(1, 2**self.dots)) * self.tuplet if base else None


Handler = Callable[[Element, Seen, Where], None]


def _pitch(node: Element, seen: Seen, where: Where) -> None:
    words = tuple([child.text for child in node])
    pitch = _PITCHES.get(words)
    if pitch is None:
        pitch = _PITCHES[words] = _new_pitch(node, where)
    seen.pitch = pitch


# pitches seen, by their elements' texts in order: step, alter, octave or step, octave
_PITCHES: dict[tuple[str | None, ...], Pitch] = {}


def _new_pitch(node: Element, where: Where) -> Pitch:
    step = (node.findtext("step") or "").strip()
    if step not in LETTERS or not step:
        raise where.error(
            f"a pitch has the letter {step!r}, not one of A to G", "correct it in the file", node.sourceline
        )
    alter = decimal(node.findtext("alter") or "0", "alter", where, node.sourceline, -4, 4)
    octave = integer(node.findtext("octave"), "octave", where, node.sourceline, -1, 10)
    return Pitch(step, int(alter) if alter.denominator == 1 else alter, octave)


def _unpitched(node: Element, seen: Seen, where: Where) -> None:
    step = (node.findtext("display-step") or "B").strip()
    octave = integer(node.findtext("display-octave") or "4", "display-octave", where, node.sourceline, -1, 10)
    seen.pitch, seen.unpitched = Pitch(step if step in LETTERS else "B", 0, octave), True


def _duration(node: Element, seen: Seen, where: Where) -> None:
    text = node.text
    if text is not None and len(text) < 10 and text.isascii() and text.isdigit():
        seen.duration = int(text)  # the usual case, far within bounds
        return
    most = MAX_DURATION_Q * MAX_DIVISIONS
    value = decimal(text, "duration", where, node.sourceline, -most, most)
    if value < 0:
        return  # as if there were none: the printed value says how long the note is
    # whole divisions are the rule; plain integers keep the cursor's arithmetic fast
    seen.duration = int(value) if value.denominator == 1 else value


def _tie(node: Element, seen: Seen, where: Where) -> None:
    kind = node.get("type")
    seen.tie_start |= kind == "start"
    seen.tie_stop |= kind == "stop"


def _tuplet(node: Element, seen: Seen, where: Where) -> None:
    words = (node.findtext("actual-notes"), node.findtext("normal-notes"))
    tuplet = _TUPLETS.get(words)
    if tuplet is None:
        tuplet = _TUPLETS[words] = _new_tuplet(node, where)
    seen.tuplet = tuplet


# tuplets seen, by the texts of their numbers
_TUPLETS: dict[tuple[str | None, str | None], Fraction] = {}


def _new_tuplet(node: Element, where: Where) -> Fraction:
    actual = integer(node.findtext("actual-notes"), "actual-notes", where, node.sourceline, 1, 1000)
    normal = integer(node.findtext("normal-notes"), "normal-notes", where, node.sourceline, 1, 1000)
    return Fraction(normal, actual)


def _dot(node: Element, seen: Seen, where: Where) -> None:
    seen.dots = min(seen.dots + 1, 8)


def _rest(node: Element, seen: Seen, where: Where) -> None:
    seen.rest = True


def _chord(node: Element, seen: Seen, where: Where) -> None:
    seen.chord = True


def _grace(node: Element, seen: Seen, where: Where) -> None:
    seen.grace = node


def _cue(node: Element, seen: Seen, where: Where) -> None:
    seen.cue = True


def _voice(node: Element, seen: Seen, where: Where) -> None:
    seen.voice = (node.text or "").strip() or None


def _staff(node: Element, seen: Seen, where: Where) -> None:
    seen.staff = integer(node.text, "staff", where, node.sourceline, 1, 99)


def _type(node: Element, seen: Seen, where: Where) -> None:
    seen.type_name = (node.text or "").strip() or None


def _instrument(node: Element, seen: Seen, where: Where) -> None:
    seen.instrument = node.get("id")


def _notations(node: Element, seen: Seen, where: Where) -> None:
    if node.get("print-object") == "no":
        return
    for child in node:
        handler = _NOTATIONS.get(child.tag)
        if handler is not None:
            handler(child, seen, where)


def _tied(node: Element, seen: Seen, where: Where) -> None:
    # `tied` is what is printed, `tie` what is heard; files exist with only one of them
    _tie(node, seen, where)


def _slur(node: Element, seen: Seen, where: Where) -> None:
    kind, number = node.get("type"), node.get("number", "1")
    if kind == "start":
        seen.slur_starts += (number,)
    elif kind == "stop":
        seen.slur_stops += (number,)


def _fermata(node: Element, seen: Seen, where: Where) -> None:
    seen.fermata = (node.text or "").strip() or "normal"


def _articulations(node: Element, seen: Seen, where: Where) -> None:
    for child in node:
        if isinstance(child.tag, str):
            if child.tag in ("breath-mark", "caesura"):
                seen.pauses = _with(seen.pauses, child.tag)
            else:
                seen.articulations = _with(seen.articulations, child.tag)


@lru_cache(maxsize=1024)
def _with(marks: frozenset[str], mark: str) -> frozenset[str]:
    """One more mark; notes with the same marks share one set of them, which has more bytes than the note."""
    return marks | {mark}


def _dynamics(node: Element, seen: Seen, where: Where) -> None:
    seen.dynamics += tuple(
        child.tag if child.tag != "other-dynamics" else (child.text or "")
        for child in node
        if isinstance(child.tag, str)
    )


def _ornament(node: Element, text: str = "") -> Ornament:
    return Ornament(node.tag, tuple(sorted(node.attrib.items())), text or (node.text or "").strip())


def _ornaments(node: Element, seen: Seen, where: Where) -> None:
    """Ornaments in printed order; an accidental mark belongs to the ornament before it (MusicXML 4.0, read)."""
    found: list[Ornament] = []
    for child in node:
        if not isinstance(child.tag, str):
            continue
        if child.tag != "accidental-mark":
            found.append(_ornament(child))
        elif found:
            found[-1] = _with_accidental(found[-1], child)
    seen.ornaments += tuple(found)


def _with_accidental(ornament: Ornament, mark: Element) -> Ornament:
    alter = ACCIDENTALS.get((mark.text or "").strip())
    below = mark.get("placement") == "below"
    return Ornament(
        ornament.kind,
        ornament.attributes,
        ornament.text,
        ornament.above if below else alter,
        alter if below else ornament.below,
    )


def _mark(node: Element, seen: Seen, where: Where) -> None:
    seen.ornaments += (_ornament(node),)


def _lyric(node: Element, seen: Seen, where: Where) -> None:
    text = (node.findtext("text") or "").strip()
    if text:
        seen.lyrics += (text,)


_NOTATIONS: dict[str, Handler] = {
    "tied": _tied,
    "slur": _slur,
    "fermata": _fermata,
    "articulations": _articulations,
    "ornaments": _ornaments,
    "dynamics": _dynamics,
    "arpeggiate": _mark,
    "non-arpeggiate": _mark,
}

_CHILDREN: dict[str, Handler] = {
    "pitch": _pitch,
    "unpitched": _unpitched,
    "rest": _rest,
    "chord": _chord,
    "grace": _grace,
    "cue": _cue,
    "duration": _duration,
    "tie": _tie,
    "voice": _voice,
    "staff": _staff,
    "type": _type,
    "dot": _dot,
    "time-modification": _tuplet,
    "notations": _notations,
    "instrument": _instrument,
    "lyric": _lyric,
}


def see_note(node: Element, where: Where) -> Seen:
    """Read one `note` element; raises `ScoreError` for numbers that are none."""
    seen = Seen(node.sourceline or 0)
    names = node.keys()
    if names and not _TELLING.isdisjoint(names):
        _attributes(node, seen, where)
    handler_of = _CHILDREN.get
    for child in node:
        handler = handler_of(child.tag)
        if handler is not None:
            handler(child, seen, where)
    return seen


#  attributes that say something of the note's sound; of the numbers, their lowest and highest value
_TELLING = frozenset({"print-object", "dynamics", "attack", "release"})
_NUMBERS = (("dynamics", 0, 1000), ("attack", -1_000_000, 1_000_000), ("release", -1_000_000, 1_000_000))


def _attributes(node: Element, seen: Seen, where: Where) -> None:
    attributes = node.attrib
    if attributes.get("print-object") == "no":
        seen.hidden = True
    for name, low, high in _NUMBERS:
        if name in attributes:
            value = decimal(attributes[name], name, where, node.sourceline, low, high)
            setattr(seen, "percent" if name == "dynamics" else name, value)
