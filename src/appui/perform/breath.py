"""Where winds and singers breathe when nothing is printed: taken from the end of a note, the next stays in time.

A player who has had no rest and no breath mark for `LONGEST_S` breathes after the longest note that no slur leads on
from, at least `SOONEST_S` after the last breath; of notes as long the latest (common practice, no source: a player, and
a teacher, will often know better). Found on the printed page at its written tempo, so that a place is breathed at
whatever is played around it. Parts of more than one voice do not breathe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from appui.exact import Fraction
from appui.perform.sheet import Row, Sheet
from appui.perform.tempo import Clock, timed_steps

__all__ = ["BREATH_S", "breathes", "breaths_of", "held_before"]

SOONEST_S, LONGEST_S = 3.0, 9.0
#  how long it takes, and the most of a note it may take
BREATH_S, MOST = 0.18, 0.35
#  a note worth breathing after; a rest that is a breath
_NOTE_S, _REST_S = 0.4, 0.15
#  General MIDI (read), 0-based: voices; brass, reeds and flutes
_BLOWN = ((52, 54), (56, 79))


def breathes(program: int) -> bool:
    """Whether an instrument is blown or sung.

    >>> breathes(68), breathes(40)
    (True, False)
    """
    return any(first <= program <= last for first, last in _BLOWN)


def held_before(length_s: float) -> float:
    """The share of a note that is held where a breath follows.

    >>> held_before(0.9), round(held_before(0.4), 2)
    (0.8, 0.65)
    """
    return 1 - min(BREATH_S / length_s, MOST)


def breaths_of(sheet: Sheet, part: int) -> frozenset[Fraction]:
    """The printed onsets of the notes of a part after which it breathes."""
    rows = [row for row in sheet.rows if row.part == part]
    if any(one.onset_q + one.length_q > other.onset_q for one, other in pairwise(rows)):
        return frozenset()
    clock = Clock(timed_steps([(mark.onset_q, mark.qpm) for mark in sheet.score.tempos], Fraction(0)))
    return frozenset(_found(rows, [clock.span(row.onset_q, row.length_q) for row in rows]))


def _found(rows: Sequence[Row], times: Sequence[tuple[float, float]]) -> Iterator[Fraction]:
    place = 0
    while place < len(rows):
        breath = _next(rows, times, place)
        if breath is None:
            return
        row, breathed = breath
        if breathed:
            yield rows[row].onset_q
        place = row + 1


def _next(rows: Sequence[Row], times: Sequence[tuple[float, float]], first: int) -> tuple[int, bool] | None:
    """The next note after which there is a rest, or a breath is to be taken (`True`); `None` for the end."""
    best: tuple[float, int] | None = None
    start_s = times[first][0]
    for place in range(first, len(rows) - 1):
        begin_s, end_s = times[place]
        if times[place + 1][0] - end_s >= _REST_S or rows[place].event.pauses:
            return place, False
        if end_s - start_s > LONGEST_S and best is not None:
            return best[1], True
        may = not rows[place].event.slur_on and end_s - begin_s >= _NOTE_S and end_s - start_s >= SOONEST_S
        if may and (best is None or end_s - begin_s >= best[0] - 1e-6):
            best = end_s - begin_s, place
    return None
