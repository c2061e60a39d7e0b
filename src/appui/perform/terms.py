"""How loud each note is, as a sum of named terms: the upper voice, its height, what is printed, and a few more.

`TERMS` says what each term looks at, `levels.toml` beside this file how much it is worth and where that is from. A term
is a column over a `Sheet`, one number a note; its part of a level is that number, counted from the mean of the piece
(pitch, where several play, from the mean of each part: an instrument's low notes are not soft for being a bassoon's),
times its worth. The piece as a whole stands where its marks put it. Nothing else goes in: no metre, no arches counted
in bars, no slur beginnings, which pianists were measured to do without.

Left out by work these terms go with what one pianist plays at r = .41 / .61 / .48 (Haydn / Beethoven / Bach), two
pianists with each other at .65 / .72 / .53; `tests/benchmarks/played.py` measures it again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.perform.leads import MOMENT_Q, lead_of, moments
from appui.perform.levels import DEFAULT_MARK, MARKS, db_of
from appui.perform.sheet import Sheet
from appui.perform.tables import terms_in
from appui.perform.written import level_among, shrunk, written_of

if TYPE_CHECKING:
    from appui.perform.sheet import Column, Flags, Places

__all__ = ["TERMS", "Worth", "base_db", "columns_of", "term_levels", "worths"]

#  a pause before a note counts up to four quarters; quicker than a 32nd is as quick
_QUICK_Q = (1 / 32, 4.0)
_DETACHED = frozenset({"staccato", "staccatissimo", "spiccato"})


class Worth(NamedTuple):
    """What a unit of a term adds, in dB; in words what it is, and where the figure comes from."""

    db: float
    unit: str
    words: str
    source: str


@lru_cache(maxsize=1)
def worths() -> Mapping[str, Worth]:
    """The table of terms."""
    return {name: Worth(**entry) for name, entry in terms_in("levels.toml").items()}


def term_levels(sheet: Sheet) -> Mapping[str, Column]:
    """What each term adds to each note of a sheet, in dB; over the piece each adds up to nothing."""
    return {name: worths()[name].db * column for name, column in columns_of(sheet).items()}


def base_db(sheet: Sheet) -> float:
    """The mean level the marks of a piece ask for, on the scale of MIDI's usual marks: where it stands as a whole."""
    column = _written(sheet)
    return db_of(MARKS[DEFAULT_MARK]) + (float(column.mean()) / shrunk() if len(column) else 0.0)


def columns_of(sheet: Sheet) -> Mapping[str, Column]:
    """The terms of a sheet, counted from the mean of the piece."""
    return {name: _centred(sheet, name, find(sheet)) for name, find in TERMS.items()}


def _centred(sheet: Sheet, name: str, column: Column) -> Column:
    if not len(column):
        return column
    if name != "pitch" or sheet.lone:
        means: Column = np.full(len(column), column.mean())
    else:
        means = _mean_of(column, sheet.part)
    centred: Column = column - means
    return centred


def _mean_of(column: Column, group: Places) -> Column:
    """For each note the mean over the notes of its group."""
    _, own = np.unique(group, return_inverse=True)
    means: Column = np.bincount(own, column) / np.bincount(own)
    return means[own]


# what is printed


def _written(sheet: Sheet) -> Column:
    printed = [written_of(part) for part in sheet.score.parts]
    return _each(sheet, lambda part, moment_q: level_among(printed, part, moment_q, sheet.solo))


def _stress(sheet: Sheet) -> Column:
    printed = {part.index: written_of(part) for part in sheet.score.parts}
    return _each(sheet, lambda part, moment_q: printed[part].stress(moment_q))


def _each(sheet: Sheet, find: Callable[[int, float], float]) -> Column:
    """A value by part and moment, looked up once for notes that begin together."""
    known: dict[tuple[int, float], float] = {}
    out = np.empty(len(sheet.rows))
    for place, row in enumerate(sheet.rows):
        key = row.part, float(row.onset_q)
        if key not in known:
            known[key] = find(*key)
        out[place] = known[key]
    return out


def _detached(sheet: Sheet) -> Column:
    return np.array([float(not _DETACHED.isdisjoint(row.event.articulations)) for row in sheet.rows])


# who leads


def _lead(sheet: Sheet) -> Column:
    return lead_of(sheet).astype(float)


def _height(sheet: Sheet) -> Column:
    octaves: Column = _centred(sheet, "pitch", _pitch(sheet)) * lead_of(sheet)
    return octaves


def _under(sheet: Sheet) -> Column:
    accompanies: Flags = sheet.staff >= 2 if sheet.lone or sheet.solo is None else sheet.part != sheet.solo
    return accompanies.astype(float)


def _hand(sheet: Sheet) -> Column:
    out = np.zeros(len(sheet.rows))
    for first, last in moments(sheet):
        highest: dict[int, float] = {}
        for hand, pitch in zip(sheet.hand[first:last].tolist(), sheet.pitch[first:last].tolist(), strict=True):
            highest[hand] = max(highest.get(hand, pitch), pitch)
        out[first:last] = [sheet.pitch[row] >= highest[int(sheet.hand[row])] for row in range(first, last)]
    return out


# height and texture


def _pitch(sheet: Sheet) -> Column:
    return sheet.pitch / 12


def _span(sheet: Sheet) -> Column:
    bars = len(sheet.score.bars)
    high, low = np.full(bars, -np.inf), np.full(bars, np.inf)
    np.maximum.at(high, sheet.bar, sheet.pitch)
    np.minimum.at(low, sheet.bar, sheet.pitch)
    octaves: Column = (high - low) / 12
    return octaves[sheet.bar]


def _octaves(sheet: Sheet) -> Column:
    """The share of the moments of a bar that are struck in octaves."""
    bars = len(sheet.score.bars)
    all_moments, doubled = np.zeros(bars), np.zeros(bars)
    for first, last in moments(sheet):
        pitches = set(sheet.pitch[first:last].tolist())
        all_moments[sheet.bar[first]] += 1
        doubled[sheet.bar[first]] += any(pitch + 12 in pitches for pitch in pitches)
    shares: Column = doubled / np.maximum(all_moments, 1)
    return shares[sheet.bar]


def _density(sheet: Sheet) -> Column:
    lengths = np.array([float(bar.length_q) or 1.0 for bar in sheet.score.bars])
    notes: Column = np.log2(np.maximum(np.bincount(sheet.bar, minlength=len(lengths)), 1) / lengths)
    return notes[sheet.bar]


def _quick(sheet: Sheet) -> Column:
    out = np.zeros(len(sheet.rows))
    before_q = -2.0
    for first, last in moments(sheet):
        now_q = float(sheet.onset_q[first])
        out[first:last] = np.log2(np.clip(now_q - before_q, *_QUICK_Q))
        before_q = now_q
    return out


# one note after another


def _repeated(sheet: Sheet) -> Column:
    """Whether a key is struck again, on its staff, that has only just been left."""
    out = np.zeros(len(sheet.rows))
    left: dict[tuple[int, float], float] = {}
    for row in range(len(sheet.rows)):
        key = int(sheet.desk[row]), float(sheet.pitch[row])
        out[row] = left.get(key, -1.0) >= sheet.onset_q[row] - MOMENT_Q
        left[key] = float(sheet.end_q[row])
    return out


def _longer(sheet: Sheet) -> Column:
    """How much longer a note is than the one before it in its voice, in doublings, two at most."""
    out = np.zeros(len(sheet.rows))
    before: dict[int, float] = {}
    for first, last in moments(sheet):
        now: dict[int, float] = defaultdict(float)
        for row in range(first, last):
            voice = int(sheet.voice[row])
            now[voice] = max(now[voice], float(sheet.length_q[row]))
        for row in range(first, last):
            voice = int(sheet.voice[row])
            out[row] = np.clip(np.log2(now[voice] / before.get(voice, now[voice])), -2, 2)
        before |= now
    return out


TERMS: Mapping[str, Callable[[Sheet], Column]] = {
    "written": _written,
    "stress": _stress,
    "lead": _lead,
    "pitch": _pitch,
    "height": _height,
    "span": _span,
    "octaves": _octaves,
    "density": _density,
    "quick": _quick,
    "under": _under,
    "hand": _hand,
    "repeated": _repeated,
    "longer": _longer,
    "detached": _detached,
}
