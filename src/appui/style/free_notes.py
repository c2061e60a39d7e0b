"""Free embellishment as notes: the short list a player writes in a plan, and what it is once it stands in its score.

A note is pitch, colon, value: ``C5:1/8``; a rest ``r:1/8``; a trilled note ``D5:1/2:tr``. Values are parts of a whole
note (1/4 a quarter, 3/8 a dotted quarter, 1/12 an eighth of a triplet), pitches as the player reads them. On a fermata
the notes before a ``|`` are free of the bar; those after it are in time again, and with the bar line the others come
in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from appui.exact import Fraction, fraction_of
from appui.score.pitch import Pitch, parse_pitch

__all__ = ["MOST_NOTES", "Free", "FreeLine", "FreeNote", "Played", "notes_text", "parse_notes"]

MOST_NOTES = 400
_NOTE = re.compile(r"(?P<pitch>r|[A-G](?:bb|b|##|#)?\d):(?P<value>\d{1,3}(?:/\d{1,3})?)(?P<trill>:tr)?")


class FreeNote(NamedTuple):
    """One note as written: its pitch (`None` a rest), its value in quarters, whether it is trilled."""

    pitch: Pitch | None
    value_q: Fraction
    trill: bool = False

    @property
    def text(self) -> str:
        """As a plan has it.

        >>> FreeNote(Pitch("D", 0, 5), Fraction(2), True).text
        'D5:1/2:tr'
        """
        name = self.pitch.name if self.pitch is not None else "r"
        return f"{name}:{self.value_q / 4}" + (":tr" if self.trill else "")


class FreeLine(NamedTuple):
    """The notes of one embellishment; `in_time` those after the bar line of a fermata, when the others play again."""

    notes: tuple[FreeNote, ...]
    in_time: tuple[FreeNote, ...] = ()

    @property
    def free_q(self) -> Fraction:
        """How long the notes before the bar line are."""
        return sum((note.value_q for note in self.notes), Fraction(0))

    @property
    def in_time_q(self) -> Fraction:
        """How long the notes after it are."""
        return sum((note.value_q for note in self.in_time), Fraction(0))

    @property
    def all(self) -> tuple[FreeNote, ...]:
        """Every note, in order."""
        return self.notes + self.in_time


class Played(NamedTuple):
    """One note ready to be played, at sounding pitch: `trill` its upper and lower note, `role` as of a `Tone`."""

    pitch: Pitch | None
    value_q: Fraction
    trill: tuple[Pitch, Pitch] | None = None
    role: str = "free"


class Free(NamedTuple):
    """An embellishment in its place: `written` as the player reads it, `notes` as they sound.

    `last` is the index of the last event it replaces, `span_q` their printed length; `second_time`: played only when
    its bar comes again in a repeat. Over a fermata `held_q` is the
    printed length of the held note, else 0: what is written before the bar line, `free_q` long, fills it, all parts
    waiting from `lead_q` on, where the last of the others begins.
    """

    written: FreeLine
    notes: tuple[Played, ...]
    last: int
    span_q: Fraction
    held_q: Fraction = Fraction(0)
    lead_q: Fraction = Fraction(0)
    free_q: Fraction = Fraction(0)
    second_time: bool = False

    @property
    def times(self) -> Fraction:
        """How many times its length the held stretch lasts; 1 without a fermata."""
        if not self.held_q:
            return Fraction(1)
        return (self.free_q - self.lead_q) / (self.held_q - self.lead_q)

    def moment_q(self, at_q: Fraction) -> Fraction:
        """Where a moment of the notes' own time falls in the printed span."""
        if not self.held_q or at_q <= self.lead_q:
            return at_q
        if at_q <= self.free_q:
            return self.lead_q + (at_q - self.lead_q) / self.times
        return self.held_q + at_q - self.free_q


def parse_notes(text: str) -> FreeLine:
    """Read a list of notes; raises `ValueError` naming the note that is none.

    >>> parse_notes("C5:1/8 D5:1/16 r:1/16").free_q
    Fraction(1, 1)
    """
    before, bar, after = text.partition("|")
    if "|" in after:
        raise ValueError("has more than one |; one bar line says where the others come in")
    first = tuple(_parsed(before, 1))
    rest = tuple(_parsed(after, len(first) + 1))
    if bar and not rest:
        raise ValueError("has nothing after its |")
    if not first:
        raise ValueError("has no notes")
    return FreeLine(first, rest)


def _parsed(text: str, number: int) -> Iterable[FreeNote]:
    words = text.split()
    if len(words) > MOST_NOTES:
        raise ValueError(f"has more than {MOST_NOTES} notes")
    for place, word in enumerate(words, number):
        found = _NOTE.fullmatch(word)
        value_q = _value_q(found["value"]) if found else Fraction(0)
        if found is None or value_q <= 0:
            raise ValueError(f"note {place}, {word!r}, is not pitch and value such as C5:1/8, r:1/4 or D5:1/2:tr")
        pitch = None if found["pitch"] == "r" else parse_pitch(found["pitch"])
        if pitch is None and found["trill"]:
            raise ValueError(f"note {place}, {word!r}, is a rest with a trill")
        yield FreeNote(pitch, value_q, bool(found["trill"]))


def _value_q(text: str) -> Fraction:
    try:
        return 4 * fraction_of(text)
    except ZeroDivisionError:
        return Fraction(0)


def notes_text(line: FreeLine) -> str:
    """The list as a plan has it; `parse_notes` reads it back."""
    before = " ".join(note.text for note in line.notes)
    return f"{before} | {' '.join(note.text for note in line.in_time)}" if line.in_time else before
