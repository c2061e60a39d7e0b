"""Accidentals: printed where a note differs from what holds in the bar for its line or space.

What holds is the key signature, then what was printed before in the bar (any theory primer; common practice, no
source). Each octave has its own line or space.
"""

from __future__ import annotations

from collections.abc import Collection

from appui.exact import Fraction, fraction_of
from appui.musicxml.element import Element
from appui.musicxml.write.build import new, put
from appui.musicxml.write.note import Spelled
from appui.musicxml.write.time import placed
from appui.score.model import Key

__all__ = ["ACCIDENTAL_NAMES", "InForce", "print_accidentals"]

ACCIDENTAL_NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


class InForce:
    """What holds in one bar of one part, note by note."""

    def __init__(self, key: Key) -> None:
        self._key = key
        self._said: dict[tuple[str, str, int], int | Fraction] = {}

    @classmethod
    def of_signature(cls, fifths: int) -> InForce:
        """What holds at the start of a bar in a key of so many sharps, or flats below zero."""
        return cls(Key(Fraction(0), fifths))

    def needed(self, pitch: Spelled, staff: str = "1", *, always: bool = True) -> str:
        """The name of the accidental to print before a note, which holds from now on; empty where none is needed.

        Not `always`, only where the line has had a note before it in the bar.
        """
        step, alter, octave = pitch
        line = (staff, step, octave)
        differs = self._said.get(line, self._key.alter(step)) != alter and (always or line in self._said)
        self._said[line] = alter
        return ACCIDENTAL_NAMES[int(alter)] if differs and alter in ACCIDENTAL_NAMES else ""


def print_accidentals(measure: Element, divisions: int, key: Key, fresh: Collection[Element]) -> None:
    """Print the accidentals that fresh notes of a bar need, and those that notes after them need because of them.

    Accidentals that stand there stay.
    """
    holds = InForce(key)
    for one in sorted(placed(measure, divisions), key=lambda one: one.start_q):
        note = one.node
        pitch = _pitch_of(note)
        if pitch is None or any(tie.get("type") == "stop" for tie in note.iterfind("tie")):
            continue
        name = holds.needed(pitch, note.findtext("staff") or "1", always=note in fresh)
        if name and note.find("accidental") is None:
            put(note, new("accidental", name))


def _pitch_of(note: Element) -> Spelled | None:
    """The pitch of a note, `None` for a rest and for quarter tones, which no such accidental says."""
    node = note.find("pitch")
    step = note.findtext("pitch/step")
    alter = fraction_of(note.findtext("pitch/alter") or "0")
    if node is None or step is None or alter.denominator != 1:
        return None
    return step.strip(), int(alter), int(note.findtext("pitch/octave") or 0)
