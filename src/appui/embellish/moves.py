"""Moves as data: ways from one printed note to the next, in the time of the first.

Each row: the intervals it fills (letter steps from the note to the next, ``+`` up), its notes, their shares of the
note's time, what it is called, which moods it fits, and where it comes from. Notes are letter steps from the printed
note (``0``), from the next (``>-1`` a step below it), or chord notes (``c1`` the next above the printed one, ``c-2``
the second below); ``t`` after it is a trill. Whether a row may stand is for `rules` to say.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["EVERYWHERE", "MOVES", "Move", "interval_words"]

EVERYWHERE = frozenset(range(-14, 15))
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
#  seconds; slides are always fast, turns mostly (C.P.E. Bach 1753, 2.7 §2-5, 2.4 §1, read; the numbers are ours)
_QUICK_S = {"slide": 0.2, "run": 0.25, "turn": 0.28, "slow turn": 0.6}


class Move(NamedTuple):
    """One row of the table."""

    name: str
    intervals: frozenset[int]
    notes: tuple[str, ...]
    shares: tuple[int, ...]
    moods: frozenset[str]
    source: str

    @property
    def leans(self) -> bool:
        """Whether it puts a leaning note before the printed one."""
        return self.name.startswith("leaning")

    @property
    def most_s(self) -> float:
        """How long its quick notes may last, in seconds: some moves are nothing if they are slow."""
        return next((most for name, most in _QUICK_S.items() if self.name.startswith(name)), 9.0)


def _row(name: str, intervals: str, notes: str, shares: str, moods: str, source: str) -> tuple[Move, ...]:
    where = EVERYWHERE if intervals == "*" else frozenset(int(each) for each in intervals.split())
    tokens = tuple(notes.split())
    return tuple(
        Move(name, where, tokens, tuple(int(each) for each in each_shares.split()), frozenset(moods.split()), source)
        for each_shares in shares.split(",")
    )


# fmt: off
#  name, intervals, notes, shares (of several kinds), moods, source
_ROWS = (
    # a note that stays
    ("neighbour above",            "0 -1",       "0 1 0",            "2 1 1, 6 1 1",            _ANY,  _FILL),
    ("neighbour below",            "0 1",        "0 -1 0",           "2 1 1, 6 1 1",            _ANY,  _FILL),
    ("turn",                       "0 1 -1 2 3 4 5", "0 1 0 -1 0",   "4 1 1 1 1, 2 1 1 1 1",    _GAY,  _TURN),
    ("slow turn",                  "0 1 2 -1",   "0 1 0 -1 0",       "4 1 1 1 1, 2 1 1 2 2",    _SOFT, _TURN),
    ("broken chord and back",      "0 -1 1",     "0 c1 0",           "2 1 1",                   _GAY,  _COMMON),
    ("broken chord below and back", "0 -1 1",    "0 c-1 0",          "2 1 1",                   _ANY,  _COMMON),
    ("anticipation",               "-1",         "0 >0",             "3 1",                     _ANY,  _COMMON),
    # thirds
    ("passing note",               "-2",         "0 -1",             "3 1, 1 1, 2 1",           _ANY,  _FILL),
    ("passing note",               "2",          "0 1",              "3 1, 1 1, 2 1",           _ANY,  _FILL),
    ("turned passing note",        "-2",         "0 1 0 -1",         "1 1 1 1, 4 1 1 2",        _GAY,  _TURN),
    ("turned passing note",        "2",          "0 -1 0 1",         "1 1 1 1, 4 1 1 2",        _GAY,  _TURN),
    ("leaning note and passing note", "-2",      "1 0 -1",           "2 1 1, 1 1 1",            _ANY,  _LEAN),
    # fourths
    ("passing notes",              "-3",         "0 -1 -2",          "2 1 1, 1 1 1, 6 1 1",     _ANY,  _FILL),
    ("passing notes",              "3",          "0 1 2",            "2 1 1, 1 1 1, 6 1 1",     _ANY,  _FILL),
    # fifths
    ("broken chord",               "-4 -5 -7",   "0 c-1",            "1 1, 3 1, 2 1",           _ANY,  _COMMON),
    ("broken chord",               "4 5 7",      "0 c1",             "1 1, 3 1, 2 1",           _ANY,  _COMMON),
    ("scale",                      "-4",         "0 -1 -2 -3",       "1 1 1 1, 3 1 2 2, 9 1 1 1", _ANY, _FILL),
    ("scale",                      "4",          "0 1 2 3",          "1 1 1 1, 3 1 2 2, 9 1 1 1", _ANY, _FILL),
    # sixths, sevenths, octaves
    ("scale",                      "-5",         "0 -1 -2 -3 -4",    "4 1 1 1 1",               _ANY,  _FILL),
    ("scale",                      "5",          "0 1 2 3 4",        "4 1 1 1 1",               _ANY,  _FILL),
    ("scale",                      "-6",         "0 -1 -2 -3 -4 -5", "3 1 1 1 1 1, 1 1 1 1 1 1", _GAY, _FILL),
    ("scale",                      "6",          "0 1 2 3 4 5",      "3 1 1 1 1 1, 1 1 1 1 1 1", _GAY, _FILL),
    ("broken chord",               "6 7 8",      "0 c1 c2",          "2 1 1, 1 1 1",            _ANY,  _COMMON),
    ("broken chord",               "-6 -7 -8",   "0 c-1 c-2",        "2 1 1, 1 1 1",            _ANY,  _COMMON),
    ("scale",                      "-7",         "0 -1 -2 -3 -4 -5 -6", "2 1 1 1 1 1 1",        _GAY,  _FILL),
    ("scale",                      "7",          "0 1 2 3 4 5 6",    "2 1 1 1 1 1 1",           _GAY,  _FILL),
    # before any
    ("leaning note from above",    "*",          "1 0",              "1 1, 2 1",                _ANY,  _LEAN),
    ("leaning note from above",    "*",          "1 0",              "1 3",                     "lively", _LEAN),
    ("leaning note from below",    "*",          "-1 0",             "1 1, 2 1",                _SOFT, _BELOW),
    ("slide",                      "*",          "-2 -1 0",          "1 1 6",                   _GAY,  _SLIDE),
    ("run up to the next note",    "1 2 3 4 5",  "0 >-3 >-2 >-1",    "9 1 1 1",                 _GAY,  _SLIDE),
    ("run down to the next note",  "-1 -2 -3 -4", "0 >3 >2 >1",      "9 1 1 1",                 _GAY,  _FILL),
    ("trill",                      "1 -1 0",     "0t",               "1",                       _ANY,  _TRILL),
    ("leaning note and trill",     "-1 1",       "1 0t",             "1 3, 1 1",                _ANY,  _TRILL),
)
# fmt: on
MOVES: tuple[Move, ...] = tuple(move for row in _ROWS for move in _row(*row))

_WORDS = ("repeated note", "step", "third", "fourth", "fifth", "sixth", "seventh", "octave")


def interval_words(steps: int) -> str:
    """A melodic interval in words: ``the falling third``."""
    size = _WORDS[abs(steps)] if abs(steps) < len(_WORDS) else "leap"
    way = {0: "", 1: "rising ", -1: "falling "}[(steps > 0) - (steps < 0)]
    return f"the {way}{size}"
