"""Holds: at a fermata all parts wait.

A hold is time added, not a note lengthened: from the last thing that begins under the fermata to the end of its note
the tempo stands at a fraction of what it was, for every part alike, so whatever plays along waits and comes in
together. Fermatas over one moment in several parts are one hold, the longest of them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import NamedTuple

from appui.score.model import Score, TempoMark
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["Hold", "held_tempos", "holds_of"]


class Hold(NamedTuple):
    """A stretch of the printed time line that lasts `times` its length."""

    start_q: Fraction
    end_q: Fraction
    times: Fraction


def holds_of(score: Score, signs: Iterable[Sign], readings: Mapping[str, Reading]) -> tuple[Hold, ...]:
    """The holds of a score under these readings, in order, none over another."""
    longest: dict[tuple[Fraction, Fraction], Fraction] = {}
    for sign in signs:
        reading = readings.get(sign.place)
        times = reading.fraction("times", Fraction(1)) if reading is not None and reading.name == "hold" else 1
        event = sign.main(score)
        if times > 1 and event.duration_q > 0:
            span = (max(_last_onset_q(score, event.end_q), event.onset_q), event.end_q)
            longest[span] = max(longest.get(span, Fraction(1)), Fraction(times))
    out: list[Hold] = []
    for (start_q, end_q), times in sorted(longest.items()):
        if not out or start_q >= out[-1].end_q:
            out.append(Hold(start_q, end_q, times))
        elif times > out[-1].times:
            out[-1] = Hold(out[-1].start_q, max(end_q, out[-1].end_q), times)
    return tuple(out)


def _last_onset_q(score: Score, end_q: Fraction) -> Fraction:
    """The onset of the last thing that begins before a moment, in any voice."""
    found = Fraction(0)
    for part in score.parts:
        for voice in part.voices:
            index = bisect_left(voice.events, end_q, key=lambda event: event.onset_q)
            if index:
                found = max(found, voice.events[index - 1].onset_q)
    return found


def held_tempos(tempos: tuple[TempoMark, ...], holds: Iterable[Hold]) -> tuple[TempoMark, ...]:
    """The tempo marks with the holds in them."""
    marks = {mark.onset_q: mark for mark in tempos}
    for hold in holds:
        resumed = _at(tempos, hold.end_q)
        marks.setdefault(hold.end_q, resumed._replace(onset_q=hold.end_q))
        for mark in tempos:
            if hold.start_q < mark.onset_q < hold.end_q:
                marks[mark.onset_q] = mark._replace(qpm=mark.qpm / hold.times)
        start = _at(tempos, hold.start_q)
        marks[hold.start_q] = start._replace(onset_q=hold.start_q, qpm=start.qpm / hold.times)
    return tuple(marks[onset_q] for onset_q in sorted(marks))


def _at(tempos: tuple[TempoMark, ...], onset_q: Fraction) -> TempoMark:
    found = tempos[0]
    for mark in tempos:
        if mark.onset_q > onset_q:
            break
        found = mark
    return found
