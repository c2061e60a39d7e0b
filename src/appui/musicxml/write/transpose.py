"""A part of a score written for another instrument: what is read changes, what sounds does not.

Conventions
    An instrument is named by the key it stands in: the pitch that sounds where C is read, the next one below, or with
    ``high`` the next above. Spelling goes by the interval, key signatures with it; where that would take more than
    seven sharps or flats, the part is spelled enharmonically throughout.
    A note that differs from its signature differs as much after the change, so accidentals stand where they stood.
"""

from __future__ import annotations

import re

from appui.errors import UsageError
from appui.exact import fraction_of
from appui.musicxml.element import Element
from appui.musicxml.read.note import ACCIDENTALS
from appui.musicxml.write.accidentals import ACCIDENTAL_NAMES
from appui.musicxml.write.bar import set_transposition
from appui.musicxml.write.build import children, remove
from appui.musicxml.write.chords import set_letter
from appui.musicxml.write.note import set_pitch
from appui.musicxml.write.time import attributes_of
from appui.score.model import Key
from appui.score.pitch import Pitch, Transposition, natural

__all__ = ["instrument_in", "transpose_letter", "transpose_part"]

_KEY = re.compile(r"(?:in\s+)?(?P<letter>[A-Ga-g])(?P<alter>#|b|♯|♭)?(?P<high>\s+high)?", re.IGNORECASE)
_C = Pitch("C", 0, 5)
_MOST_FIFTHS = 7
_NAMES = {-3: "triple-flat", **ACCIDENTAL_NAMES, 3: "triple-sharp"}


def instrument_in(words: str) -> Transposition:
    """The transposition of an instrument by its key: ``Bb``, ``in A``, ``Eb high``; ``C`` is none.

    Raises `UsageError` for other words.

    >>> instrument_in("Bb"), instrument_in("Eb high")
    (Transposition(diatonic=-1, chromatic=-2), Transposition(diatonic=2, chromatic=3))
    """
    match = _KEY.fullmatch(words.strip())
    if match is None:
        raise UsageError(
            f"--transpose {words!r} is no key of an instrument: write the note that sounds where C is read, as Bb, "
            "A, F or C; 'Eb high' for one that sounds higher than it is written"
        )
    alter = {"#": 1, "♯": 1, "b": -1, "♭": -1, None: 0}[match["alter"]]
    letter = match["letter"].upper()
    octave = 4 + bool(match["high"]) + (letter == "C" and alter <= 0)
    sounding = Pitch(letter, alter, octave)
    return Transposition(sounding.diatonic - _C.diatonic, sounding.midi - _C.midi)


def transpose_part(part: Element, wanted: Transposition) -> None:
    """Write a part for an instrument of another transposition, whatever its own are."""
    _Change(_spelled_well(part, wanted)).part(part)


def _spelled_well(part: Element, wanted: Transposition) -> Transposition:
    """The transposition, spelled enharmonically where keys would have too many sharps or flats."""
    others = [wanted, *(wanted._replace(diatonic=wanted.diatonic + more) for more in (1, -1))]
    return min(others, key=lambda each: most if (most := _most_fifths(part, each)) > _MOST_FIFTHS else 0)


def _most_fifths(part: Element, wanted: Transposition) -> int:
    """The most sharps or flats of the part's keys for an instrument."""
    now, most, change = Transposition(), 0, _Change(wanted)
    for attributes in part.iter("attributes"):
        now = _transposition_of(attributes, now)
        change.now = now
        most = max([most, *(abs(change.fifths(_key_of(key).fifths)) for key in attributes.iterfind("key"))])
    return most


class _Change:
    """Goes through a part: `now` is the transposition in force in the file, `wanted` the one to be."""

    def __init__(self, wanted: Transposition) -> None:
        self.wanted, self.now = wanted, Transposition()
        self.key, self.new_key = Key(fraction_of("0"), 0), Key(fraction_of("0"), 0)

    def part(self, part: Element) -> None:
        """Write all of a part anew."""
        self._keyed()
        for child in (child for measure in part.iterfind("measure") for child in children(measure)):
            if child.tag == "attributes":
                self._attributes(child)
            elif child.tag == "note":
                self._note(child)
            elif child.tag == "harmony":
                self._harmony(child)
        first = part.find("measure")
        if first is not None:
            set_transposition(attributes_of(first), self.wanted)

    def pitch(self, written: Pitch) -> Pitch:
        """What is to be read for what is written now."""
        return self.wanted.written(self.now.sounding(written))

    def letter(self, letter: str) -> str:
        """The same for a letter, as of a chord."""
        alter = letter.count("#") - letter[1:].count("b")
        return self.pitch(Pitch(letter[0], alter, 4)).letter

    def fifths(self, fifths: int) -> int:
        """The same for a signature."""
        chromatic = int(self.now.chromatic - self.wanted.chromatic)
        return fifths + 7 * chromatic - 12 * (self.now.diatonic - self.wanted.diatonic)

    def _attributes(self, node: Element) -> None:
        self.now = _transposition_of(node, self.now)
        for old in node.findall("transpose"):
            remove(old)
        for key in node.iterfind("key"):
            self.key = _key_of(key)
            self._signature(key)
        self._keyed()

    def _keyed(self) -> None:
        self.new_key = self.key._replace(fifths=self.fifths(self.key.fifths))

    def _signature(self, node: Element) -> None:
        fifths = node.find("fifths")
        if fifths is not None:
            fifths.text = str(self.fifths(int(fifths.text or 0)))
        for step, alter in zip(node.findall("key-step"), node.findall("key-alter"), strict=False):
            found = self.pitch(Pitch((step.text or "C").strip(), int(fraction_of(alter.text or "0")), 4))
            step.text, alter.text = found.step, str(found.alter)

    def _note(self, note: Element) -> None:
        written = _pitch_of(note)
        if written is None:
            return
        found = self.pitch(written)
        set_pitch(note, found)
        accidental = note.find("accidental")
        if accidental is not None and (name := _NAMES.get(int(found.alter))) and (accidental.text or "") in ACCIDENTALS:
            accidental.text = name
        for mark in note.iterfind("notations/ornaments/accidental-mark"):
            self._mark(mark, written, found)

    def _mark(self, mark: Element, written: Pitch, found: Pitch) -> None:
        """The accidental of an ornament's other note differs from its signature as much as it did."""
        alter = ACCIDENTALS.get((mark.text or "").strip())
        if alter is None:
            return
        step = -1 if mark.get("placement") == "below" else 1
        old, new = (natural(pitch.diatonic + step).step for pitch in (written, found))
        name = _NAMES.get(self.new_key.alter(new) + alter - self.key.alter(old))
        mark.text = name or mark.text

    def _harmony(self, harmony: Element) -> None:
        for name in ("root", "bass"):
            node = harmony.find(name)
            step = node.findtext(f"{name}-step") if node is not None else None
            if node is not None and step and step.strip() in "CDEFGAB":
                alter = int(fraction_of(node.findtext(f"{name}-alter") or "0"))
                set_letter(node, name, self.pitch(Pitch(step.strip(), alter, 4)).letter)


def transpose_letter(letter: str, transposition: Transposition) -> str:
    """A letter that sounds, as of a chord's root, as a player of a transposing instrument reads it.

    >>> transpose_letter("Bb", Transposition(-1, -2))
    'C'
    """
    change = _Change(transposition)
    return change.letter(letter)


def _transposition_of(attributes: Element, before: Transposition) -> Transposition:
    """The transposition that holds after some attributes, read as `appui.musicxml.read` reads it."""
    node = attributes.find("transpose")
    if node is None:
        return before
    chromatic = fraction_of(node.findtext("chromatic") or "0")
    octaves = int(fraction_of(node.findtext("octave-change") or "0"))
    told = node.findtext("diatonic")
    diatonic = int(fraction_of(told)) if told else round(chromatic * 7 / 12)
    whole = chromatic + 12 * octaves
    return Transposition(diatonic + 7 * octaves, int(whole) if whole.denominator == 1 else whole)


def _key_of(node: Element) -> Key:
    steps = [(step.text or "C").strip() for step in node.iterfind("key-step")]
    alters = [int(fraction_of(alter.text or "0")) for alter in node.iterfind("key-alter")]
    return Key(fraction_of("0"), int(node.findtext("fifths") or 0), "", tuple(zip(steps, alters, strict=False)))


def _pitch_of(note: Element) -> Pitch | None:
    node = note.find("pitch")
    if node is None:
        return None
    alter = fraction_of(node.findtext("alter") or "0")
    return Pitch(
        (node.findtext("step") or "C").strip(),
        int(alter) if alter.denominator == 1 else alter,
        int(node.findtext("octave") or 4),
    )
