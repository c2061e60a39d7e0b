"""What is printed about loudness, on the scale that players use: marks, hairpins, ``cresc.`` and ``dim.`` in words.

Pianists of today do not play the printed marks as far apart as MIDI programs do. Measured in 248 performances of Haydn,
Beethoven, Bach and R. Schumann ((n)ASAP, dB = 40 log10 of the velocity): pp to p 2.4 dB, p to f 5.0, f to ff 0.7. The
marks between and beyond are set in proportion (common practice, no source).

Conventions: dB above mf; quarters of the printed time line. A hairpin leads from the level where it starts to the next
mark within a bar of its end, else `STEP_DB` louder or softer. Words lead to the next mark or words, at most `LONGEST_Q`
on. Nothing printed between two marks rises further than a step above the last of them.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from appui.perform.levels import FORTE, MARKS, STRESSES, db_of
from appui.score.model import Part

__all__ = ["SCALE_DB", "STEP_DB", "Written", "level_among", "shrunk", "written_of"]

#            mark        dB over mf
SCALE_DB = {
    "pppp": -7.0,
    "ppp": -6.0,
    "pp": -5.0,
    "p": -2.6,
    "mp": -1.2,
    "mf": 0.0,
    "f": 2.4,
    "ff": 3.1,
    "fff": 3.8,
    "ffff": 4.5,
}
STEP_DB = 2.5
#  how near to the end of a hairpin a mark must stand to be its goal; how long words lead
REACH_Q, LONGEST_Q = 4.0, 16.0
#  a stress with another level after it is struck half as hard again
STRUCK_ON = 1.5

_LEVEL = re.compile(
    r"\W*(?:(?:sempre|più|poco|molto|subito) )*"
    r"(pianissimo|fortissimo|piano|forte|mezza voce|sotto voce|p{1,4}|f{1,4}|mp|mf)(?![a-z])"
)
_NAMED = {"pianissimo": "pp", "fortissimo": "ff", "piano": "p", "forte": "f", "mezza voce": "mp", "sotto voce": "p"}
_LOUDER = re.compile(r"(?<!de)cresc|rinf")
_SOFTER = re.compile(r"\b(?:dim|decresc|morend|perdend|smorz|calando|mancando)")


class _Move(NamedTuple):
    """A rise (`way` 1) or fall (-1) from `start_q` on; `end_q` is `None` where only what follows ends it."""

    start_q: float
    way: int
    end_q: float | None


class _Stretch(NamedTuple):
    """From `start_q` at `start_db` evenly to `end_db` at `end_q`, and there on."""

    start_q: float
    start_db: float
    end_q: float
    end_db: float

    def at(self, moment_q: float) -> float:
        if moment_q >= self.end_q:
            return self.end_db
        share = (moment_q - self.start_q) / (self.end_q - self.start_q)
        return self.start_db + (self.end_db - self.start_db) * share


@dataclass(frozen=True, slots=True)
class Written:
    """What is printed over one part: `stretches` in order; `stresses` how hard a moment is struck, 1 a plain sf.

    `marked_q` are the moments of its marks, in order.
    """

    stretches: tuple[_Stretch, ...]
    stresses: Mapping[float, float]
    marked_q: tuple[float, ...] = ()

    @property
    def from_q(self) -> float:
        """Where its first mark stands, infinity where it has none."""
        return self.marked_q[0] if self.marked_q else math.inf

    def last_mark_q(self, moment_q: float) -> float:
        """Where the mark stands that is in force, minus infinity before the first."""
        place = bisect_right(self.marked_q, moment_q)
        return self.marked_q[place - 1] if place else -math.inf

    def at(self, moment_q: float) -> float:
        """The level at a moment, dB above mf, without stresses."""
        return self.stretches[_last_by(self.stretches, moment_q)].at(moment_q)

    def stress(self, moment_q: float) -> float:
        """How hard a moment is struck: 1 for sf and its kin, 0 where nothing is printed."""
        return self.stresses.get(moment_q, 0.0)


def written_of(part: Part) -> Written:
    """What is printed over a part."""
    marks: dict[float, float] = {}
    stresses: dict[float, float] = {}
    moves = [_Move(float(pin.onset_q), 1 if pin.kind == "crescendo" else -1, float(pin.end_q)) for pin in part.hairpins]
    for moment_q, text, percent in _said(part):
        if text in STRESSES:
            after = STRESSES[text]
            stresses[moment_q] = STRUCK_ON if after else 1.0
            if after:
                marks[moment_q] = SCALE_DB[after]
            continue
        if (level := _level(text, percent)) is not None:
            marks[moment_q] = level
        if _LOUDER.search(text) or _SOFTER.search(text):
            moves.append(_Move(moment_q, 1 if _LOUDER.search(text) else -1, None))
    stretches = _stretches(marks, sorted(moves, key=lambda move: move.start_q))
    return Written(stretches, stresses, tuple(sorted(marks)))


def level_among(printed: Sequence[Written], own: int, moment_q: float, solo: int | None = None) -> float:
    """The level of one part at a moment, dB above mf: before its first mark that of the others that have had one.

    Editions leave marks out of parts; one that is unmarked must not shout where all others are told to play softly. Nor
    must one that accompanies a solo go on in the forte it had, where the solo and all others have softer marks since.
    """
    others = [one for at, one in enumerate(printed) if at != own]
    if solo not in (None, own) and len(others) > 1 and _left_behind(printed[own], others, moment_q):
        return sum(one.at(moment_q) for one in others) / len(others)
    if printed[own].from_q <= moment_q:
        return printed[own].at(moment_q)
    marked = [one.at(moment_q) for one in others if one.from_q <= moment_q]
    return sum(marked) / len(marked) if marked else printed[own].at(moment_q)


def _left_behind(own: Written, others: Sequence[Written], moment_q: float) -> bool:
    """Whether all others have had a mark since the last of this part, and are softer by now.

    A part whose next mark comes within `REACH_Q` of theirs is marked after them, not left behind.
    """
    since_q, level = own.last_mark_q(moment_q), own.at(moment_q)
    if since_q == -math.inf or any(one.last_mark_q(moment_q) <= since_q or one.at(moment_q) >= level for one in others):
        return False
    theirs_q = max(one.last_mark_q(moment_q) for one in others)
    return not any(since_q < at_q <= theirs_q + REACH_Q for at_q in own.marked_q)


def _said(part: Part) -> Iterator[tuple[float, str, float | None]]:
    """Marks and words: moment, text in small letters without brackets, per cent of forte where the file says it."""
    for mark in part.dynamics:
        yield float(mark.onset_q), _bare(mark.mark), float(mark.percent) if mark.percent else None
    for words in part.words:
        yield float(words.onset_q), _bare(words.text), None


def _bare(text: str) -> str:
    return text.strip().strip("[]()").lower()


def _level(text: str, percent: float | None) -> float | None:
    """The level a text asks for, dB above mf; `None` where it asks for none."""
    found = _LEVEL.match(text)
    if found is not None:
        return SCALE_DB[_NAMED.get(found[1], found[1])]
    if percent is None:
        return None
    return SCALE_DB["f"] + (db_of(max(1.0, min(127.0, FORTE * percent / 100))) - db_of(FORTE)) * shrunk()


def shrunk() -> float:
    """What a decibel of the usual MIDI marks becomes on this scale."""
    return (SCALE_DB["f"] - SCALE_DB["p"]) / (db_of(MARKS["f"]) - db_of(MARKS["p"]))


def _stretches(marks: Mapping[float, float], moves: Sequence[_Move]) -> tuple[_Stretch, ...]:
    known = {-1.0: SCALE_DB["mf"], **marks}
    onsets = sorted(known)
    found = [_Stretch(moment_q, known[moment_q], moment_q, known[moment_q]) for moment_q in onsets]
    starts = [move.start_q for move in moves]
    for move in moves:
        later = starts[bisect_right(starts, move.start_q) :]
        _add(found, _led(found, move, known, onsets, next(iter(later), None)))
    return tuple(found)


def _led(
    found: list[_Stretch], move: _Move, known: Mapping[float, float], onsets: list[float], later_q: float | None
) -> _Stretch:
    """A move as a stretch: where it ends, and at which level."""
    at = bisect_right(onsets, move.start_q)
    mark_q = onsets[at] if at < len(onsets) else None
    end_q = move.end_q
    if end_q is None:
        end_q = min(q for q in (mark_q, later_q, move.start_q + LONGEST_Q) if q is not None)
    start_db = found[_last_by(found, move.start_q)].at(move.start_q)
    goal = known[mark_q] if mark_q is not None and mark_q <= end_q + REACH_Q else None
    if goal is None or (goal - start_db) * move.way <= 0:
        base = known[onsets[at - 1]]
        goal = max(base - STEP_DB, min(base + STEP_DB, start_db + move.way * STEP_DB))
    return _Stretch(move.start_q, start_db, max(end_q, move.start_q), goal)


def _add(found: list[_Stretch], new: _Stretch) -> None:
    """Put a stretch in its place; what is printed inside it gives way."""
    found[:] = [one for one in found if one.start_q < new.start_q or one.start_q >= max(new.end_q, new.start_q + 1e-9)]
    found.insert(_last_by(found, new.start_q) + 1, new)


def _last_by(found: tuple[_Stretch, ...] | list[_Stretch], moment_q: float) -> int:
    return max(bisect_right(found, moment_q, key=lambda one: one.start_q) - 1, 0)
