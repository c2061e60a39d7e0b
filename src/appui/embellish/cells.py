"""Figures of a beat as data: what a player of the time puts in the place of one plain note, or of a beat of them.

Each row: the family it is of, its name, its notes, their shares of the time, the moods it fits, where it comes from.
Notes are letter steps from the plain note (``0``), from the next plain note (``>-1`` a step below it), chord notes
(``c1`` the next above the plain one, ``c-2`` the second below), ``x`` the semitone below the plain note, ``>x`` below
the next, ``p`` the note before held over, ``r`` a rest; ``t`` after a note is a trill. Whether a row may stand is for
`rules` to say: what is foreign to the chord has to go on by step, so no row says to which next notes it leads.

What a row does to the plain note: ``struck`` (it comes first), ``delayed`` (it comes later), ``passed over`` (another
note stands for it).
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from appui.exact import Fraction

__all__ = ["CELLS", "Cell", "cells_for"]

_ANY = "sad tender lively"
_SOFT = "sad tender"
_GAY = "tender lively"
_FILL = "fillings by step: Tartini, memory"
_LEAN = "C.P.E. Bach 1753, 2.2 §9, read"
_BELOW = "C.P.E. Bach 1753, 2.2 §10, read"
_TURN = "C.P.E. Bach 1753, 2.4 §1-9, read; between written notes: Tartini, memory"
_SLIDE = "C.P.E. Bach 1753, 2.7 §2-5, read"
_TRILL = "C.P.E. Bach 1753, 2.3 §6, §13, read"
_COMMON = "common practice, no source"
#  seconds the quick notes of a family may last: slides are always fast (C.P.E. Bach 1753, 2.7 §2-5; the number is ours)
_QUICK_S = {"sliding": 0.2}


class Cell(NamedTuple):
    """One row of the table; `shares` of the time of the note or beat."""

    family: str
    name: str
    notes: tuple[str, ...]
    shares: tuple[int, ...]
    moods: frozenset[str]
    source: str

    @property
    def treatment(self) -> str:
        """What it does to the plain note: ``struck``, ``delayed``, ``passed over``."""
        bare = [note.removesuffix("t") for note in self.notes]
        if bare[0] == "0":
            return "struck"
        return "delayed" if "0" in bare else "passed over"

    @property
    def trilled(self) -> bool:
        """Whether it has a trill: for closes."""
        return any(note.endswith("t") for note in self.notes)

    @property
    def chromatic(self) -> bool:
        """Whether it asks for a semitone below."""
        return any("x" in note for note in self.notes)

    @property
    def most_s(self) -> float:
        """How long its quickest note may last, in seconds."""
        return _QUICK_S.get(self.family, 9.0)

    def values_q(self, room_q: Fraction) -> tuple[Fraction, ...]:
        """Its values over so many quarters."""
        whole = sum(self.shares)
        return tuple(room_q * share / whole for share in self.shares)


# fmt: off
#  family, name, notes, shares (of several rows), moods, source
_ROWS = (
    # around the note
    ("turning", "turning figure",                "0 1 0 -1",    "1 1 1 1",            _ANY,  _TURN),
    ("turning", "turning figure",                "0 -1 0 1",    "1 1 1 1",            _ANY,  _TURN),
    ("turning", "turning figure",                "0 x 0 1",     "1 1 1 1",            _ANY,  _TURN),
    ("turning", "turn from above",               "1 0 -1 0",    "1 1 1 1",            _ANY,  _TURN),
    ("turning", "turn from above",               "1 0 x 0",     "1 1 1 1",            _ANY,  _TURN),
    ("turning", "turn from below",               "-1 0 1 0",    "1 1 1 1",            _ANY,  _TURN),
    ("turning", "turn",                          "0 1 0 -1 0",  "4 1 1 1 1",          _ANY,  _TURN),
    ("turning", "turn",                          "0 1 0 x 0",   "4 1 1 1 1",          _ANY,  _TURN),
    ("turning", "neighbour above",               "0 1 0",       "2 1 1, 1 1 2, 1 1 1", _ANY, _FILL),
    ("turning", "neighbour below",               "0 -1 0",      "2 1 1, 1 1 2, 1 1 1", _ANY, _FILL),
    ("turning", "neighbour below",               "0 x 0",       "2 1 1, 1 1 2, 1 1 1", _ANY, _FILL),
    ("turning", "neighbour above",               "0 1",         "1 1, 3 1",           _ANY,  _FILL),
    ("turning", "neighbour below",               "0 -1",        "1 1, 3 1",           _ANY,  _FILL),
    ("turning", "neighbour below",               "0 x",         "1 1, 3 1",           _ANY,  _FILL),
    # by step towards the next
    ("running", "passing notes",                 "0 1 2",       "2 1 1, 1 1 1, 1 1 2", _ANY, _FILL),
    ("running", "passing notes",                 "0 -1 -2",     "2 1 1, 1 1 1, 1 1 2", _ANY, _FILL),
    ("running", "scale",                         "0 1 2 3",     "1 1 1 1",            _ANY,  _FILL),
    ("running", "scale",                         "0 -1 -2 -3",  "1 1 1 1",            _ANY,  _FILL),
    ("running", "scale",                         "0 1 2 3 4",   "4 1 1 1 1",          _ANY,  _FILL),
    ("running", "scale",                         "0 -1 -2 -3 -4", "4 1 1 1 1",        _ANY,  _FILL),
    ("running", "scale",                         "0 1 2 3 4 5", "3 1 1 1 1 1, 1 1 1 1 1 1", _GAY, _FILL),
    ("running", "scale",                         "0 -1 -2 -3 -4 -5", "3 1 1 1 1 1, 1 1 1 1 1 1", _GAY, _FILL),
    ("running", "round from below",              "0 -1 -2 -1",  "1 1 1 1",            _ANY,  _FILL),
    ("running", "round from above",              "0 1 2 1",     "1 1 1 1",            _ANY,  _FILL),
    ("running", "down and up by step",           "0 -3 -2 -1",  "1 1 1 1",            _ANY,  _FILL),
    ("running", "up and down by step",           "0 3 2 1",     "1 1 1 1",            _ANY,  _FILL),
    ("running", "third filled",                  "0 -2 -1 0",   "1 1 1 1",            _ANY,  _FILL),
    ("running", "third filled",                  "0 2 1 0",     "1 1 1 1",            _ANY,  _FILL),
    ("running", "run up to the next note",       "0 >-3 >-2 >-1", "1 1 1 1, 9 1 1 1", _ANY,  _FILL),
    ("running", "run down to the next note",     "0 >3 >2 >1",  "1 1 1 1, 9 1 1 1",   _ANY,  _FILL),
    ("running", "step into the next note",       "0 >-1",       "1 1, 3 1",           _ANY,  _FILL),
    ("running", "step into the next note",       "0 >1",        "1 1, 3 1",           _ANY,  _FILL),
    ("running", "chromatic step",                "0 >x",        "1 1, 3 1",           _ANY,  _COMMON),
    ("running", "chromatic step",                "0 1 0 >x",    "1 1 1 1",            _ANY,  _COMMON),
    ("running", "chromatic step",                "0 c-1 0 >x",  "1 1 1 1",            _ANY,  _COMMON),
    # in chord notes
    ("breaking", "broken chord",                 "0 c1",        "1 1, 3 1",           _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c-1",       "1 1, 3 1",           _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c1 c2 c1",  "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c-1 c-2 c-1", "1 1 1 1",          _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c-1 0 c1",  "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c1 0 c-1",  "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c1 c2",     "1 1 1, 2 1 1",       _ANY,  _COMMON),
    ("breaking", "broken chord",                 "0 c-1 c-2",   "1 1 1, 2 1 1",       _ANY,  _COMMON),
    ("breaking", "broken chord to the note",     "c-2 c-1 0",   "1 1 1, 1 1 2",       _ANY,  _COMMON),
    ("breaking", "broken chord to the note",     "c2 c1 0",     "1 1 1, 1 1 2",       _GAY,  _COMMON),
    ("breaking", "broken chord to the note",     "c-1 0 c1 0",  "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "broken chord to the note",     "c1 c2 c1 0",  "1 1 1 1",            _GAY,  _COMMON),
    ("breaking", "broken chord and step",        "0 c1 0 -1",   "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "broken chord and step",        "0 c-1 0 1",   "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "another chord note",           "c1",          "1",                  _ANY,  _COMMON),
    ("breaking", "another chord note",           "c-1",         "1",                  _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c1 c2",       "1 1",                _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c-1 c-2",     "1 1",                _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c1 c-1",      "1 1",                _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c1 >1",       "1 1",                _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c-1 >-1",     "1 1",                _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c1 >3 >2 >1", "1 1 1 1",            _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c-1 >-3 >-2 >-1", "1 1 1 1",        _ANY,  _COMMON),
    ("breaking", "other chord notes",            "c2 c1 >2 >1", "1 1 1 1",            _ANY,  _COMMON),
    # leaning on the note
    ("sighing", "leaning note from above",       "1 0",         "1 1, 2 1, 3 1, 1 3", _ANY,  _LEAN),
    ("sighing", "leaning note from below",       "-1 0",        "1 1, 2 1",           _ANY,  _BELOW),
    ("sighing", "leaning note from below",       "x 0",         "1 1, 2 1",           "sad", _BELOW),
    ("sighing", "leaning and passing note",      "1 0 -1",      "2 1 1, 1 1 1",       _ANY,  _LEAN),
    ("sighing", "leaning note in the middle",    "0 1 0 -1",    "1 2 1 4",            _SOFT, _LEAN),
    ("sighing", "note held over",                "p 0",         "1 1",                _ANY,  _LEAN),
    ("sighing", "note held over",                "p 0 -1 0",    "1 1 1 1",            _ANY,  _LEAN),
    ("sighing", "sigh from a third above",       "2 1 0",       "1 1 2",              _ANY,  _LEAN),
    ("sighing", "next note anticipated",         "0 >0",        "1 1, 3 1",           _ANY,  _COMMON),
    ("sighing", "next note anticipated",         "1 0 >0",      "2 1 1",              _ANY,  _COMMON),
    ("sliding", "slide",                         "-2 -1 0",     "1 1 6",              _GAY,  _SLIDE),
    # its time shifted
    ("shifting", "note after a rest",            "r 0",         "1 1, 1 3",           _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r 0 1 0",     "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r 0 -1 0",    "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r 0 x 0",     "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r 0 1 2",     "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r 0 -1 -2",   "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r c-1 0 1",   "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "figure after a rest",          "r c1 0 -1",   "1 1 1 1",            _ANY,  _COMMON),
    ("shifting", "syncopation",                  "c-1 0",       "1 3, 1 1",           _ANY,  _COMMON),
    ("shifting", "syncopation",                  "c1 0",        "1 3, 1 1",           _ANY,  _COMMON),
    ("shifting", "syncopation",                  "c1 0 -1",     "1 2 1",              _ANY,  _COMMON),
    ("shifting", "syncopation",                  "c-1 0 1",     "1 2 1",              _ANY,  _COMMON),
    ("shifting", "syncopation",                  "0 1 0",       "1 2 1",              _ANY,  _COMMON),
    # of a beat of several plain notes
    ("plain", "one note for the beat",           "0",           "1",                  _ANY,  _COMMON),
    # at a close
    ("trill", "trill",                           "0t",          "1",                  _ANY,  _TRILL),
    ("trill", "leaning note and trill",          "1 0t",        "1 3, 1 1",           _ANY,  _TRILL),
)
# fmt: on
CELLS: tuple[Cell, ...] = tuple(
    Cell(family, name, tuple(notes.split()), tuple(map(int, row.split())), frozenset(moods.split()), source)
    for family, name, notes, shares, moods, source in _ROWS
    for row in shares.split(",")
)


@cache
def cells_for(mood: str) -> tuple[Cell, ...]:
    """The rows for a mood."""
    return tuple(cell for cell in CELLS if mood in cell.moods)
