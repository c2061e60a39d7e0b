"""Free embellishment as a player writes it in a plan: a short list of notes.

A note is pitch, colon, value: ``C5:1/8``; a rest ``r:1/8``; a trilled note ``D5:1/2:tr``. Values are parts of a whole
note (1/4 a quarter, 3/8 a dotted quarter, 1/12 an eighth of a triplet), pitches as the player reads them. On a fermata
the notes before a ``|`` are free of the bar; those after it are in time again, and with the bar line the others come
in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from appui.exact import Fraction, fraction_of
from appui.score.pitch import parse_pitch
from appui.style.free import FreeLine, FreeNote

__all__ = ["MOST_NOTES", "notes_text", "parse_notes"]

MOST_NOTES = 400
_NOTE = re.compile(r"(?P<pitch>r|[A-G](?:bb|b|##|#)?\d):(?P<value>\d{1,3}(?:/\d{1,3})?)(?P<trill>:tr)?")


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
