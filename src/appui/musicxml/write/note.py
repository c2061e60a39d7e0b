"""Notes as MusicXML prints them: pitch, value, ties, beams, accidentals, and what hangs on them.

Conventions
    Lengths are whole divisions of a quarter note. A pitch is letter, alteration in semitones and octave, as
    `appui.score.pitch.Pitch` has them; `None` is a rest. A tuplet is (how many notes, in the time of how many).

Source: MusicXML 4.0, `schema/musicxml.xsd`, complex type note (read).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from appui.exact import Fraction
from appui.musicxml.element import Element
from appui.musicxml.write.build import add, decimal_text, new, put

__all__ = ["Look", "Spelled", "forward", "new_note", "notations_of", "set_beams", "set_look", "set_pitch", "small_note"]

Spelled = tuple[str, int | Fraction, int]
#  what a note may be struck with -> whether it hangs on the end of the note
LATE = frozenset({"fermata", "breath-mark", "caesura"})


class Look(NamedTuple):
    """How a note looks: the name of its value, dots, tuplet, the name of its accidental, stem, its beams from outside.

    Left empty, a value, an accidental or a stem is not written.
    """

    type: str = ""
    dots: int = 0
    tuplet: tuple[int, int] | None = None
    accidental: str = ""
    stem: str = ""
    beams: Sequence[str] = ()


def new_note(
    pitch: Spelled | None,
    duration: int,
    look: Look,
    *,
    chord: bool = False,
    ties: Iterable[str] = (),
    voice: str = "",
    staff: int | None = None,
) -> Element:
    """A full-size note or rest; `ties` are ``stop`` and ``start``; `chord` for a note struck with the one before."""
    note = new("note")
    if chord:
        add(note, "chord")
    set_pitch(note, pitch)
    add(note, "duration", duration)
    ties = tuple(ties)
    for kind in ties:
        add(note, "tie", type=kind)
    if voice:
        add(note, "voice", voice)
    set_look(note, look)
    if staff is not None:
        put(note, new("staff", staff))
    for kind in ties:
        add(notations_of(note), "tied", type=kind)
    return note


def small_note(pitch: Spelled, look: Look, *, slash: bool = False, voice: str = "") -> Element:
    """A small note before or after a full-size one; `slash` is the stroke through its stem."""
    note = new("note")
    add(note, "grace", slash="yes" if slash else None)
    set_pitch(note, pitch)
    if voice:
        add(note, "voice", voice)
    set_look(note, look)
    return note


def set_pitch(note: Element, pitch: Spelled | None) -> None:
    """Give a note its pitch in place of the one it has, or make it a rest."""
    for old in [child for child in note if child.tag in ("pitch", "unpitched", "rest")]:
        note.remove(old)
    if pitch is None:
        put(note, new("rest"))
        return
    step, alter, octave = pitch
    node = put(note, new("pitch"))
    add(node, "step", step)
    if alter:
        add(node, "alter", decimal_text(alter))
    add(node, "octave", octave)


def set_look(note: Element, look: Look) -> None:
    """Give a note that has none its look."""
    if look.type:
        put(note, new("type", look.type))
    for _ in range(look.dots):
        put(note, new("dot"))
    if look.accidental:
        put(note, new("accidental", look.accidental))
    if look.tuplet is not None:
        change = put(note, new("time-modification"))
        for name, number in zip(("actual-notes", "normal-notes"), look.tuplet, strict=True):
            add(change, name, number)
    if look.stem:
        put(note, new("stem", look.stem))
    set_beams(note, look.beams)


def set_beams(note: Element, beams: Sequence[str]) -> None:
    """Give a note its beams, from the outermost, in place of those it has."""
    for old in note.findall("beam"):
        note.remove(old)
    for number, text in enumerate(beams, 1):
        put(note, new("beam", text, number=str(number)))


def notations_of(note: Element) -> Element:
    """The notations of a note, made where it has none."""
    found = note.find("notations")
    return found if found is not None else put(note, new("notations"))


def forward(measure: Element, duration: int, tag: str = "forward") -> None:
    """Move on in a bar by a length, or with `tag` ``backup`` back; not at all by none."""
    if duration:
        add(add(measure, tag), "duration", duration)
