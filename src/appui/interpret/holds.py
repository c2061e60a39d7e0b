"""Holds: at a fermata all parts wait.

A hold is time added, not a note lengthened: from the last thing that begins under the fermata to the end of its note
the tempo stands at a fraction of what it was, for every part alike, so whatever plays along waits and comes in
together. Fermatas over one moment in several parts are one hold: the longest of them, or of those the player has
decided on, where there are any.

Over an embellishment the tempo stands still just so far that its notes have their own time; it goes before any plain
hold it meets. The others hold their chord while the first of its notes lasts, then let go and wait for the next bar or
beat (common practice, no source).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Container, Iterable, Mapping, Sequence
from operator import attrgetter
from typing import NamedTuple

from appui.exact import Fraction
from appui.realize.contract import Tone
from appui.score.model import Score, TempoMark, tempo_in_force
from appui.score.repeats import Occurrence
from appui.score.signs import Sign
from appui.style.reading import Reading

__all__ = ["Hold", "Silence", "held_tempos", "holds_of", "let_go", "silences_of"]


class Hold(NamedTuple):
    """A stretch of the printed time line that lasts `times` its length."""

    start_q: Fraction
    end_q: Fraction
    times: Fraction


class Silence(NamedTuple):
    """From `start_q` to `end_q` of the printed time line all parts but one, by index, are silent."""

    start_q: Fraction
    end_q: Fraction
    part: int


def holds_of(
    score: Score, signs: Iterable[Sign], readings: Mapping[str, Reading], decided: Container[str] = ()
) -> tuple[Hold, ...]:
    """The holds of a score under these readings, in order, none over another; `decided` are places of the player's."""
    plain: list[Hold] = []
    wished: list[Hold] = []
    free: list[Hold] = []
    for sign in signs:
        reading = readings.get(sign.place)
        if reading is not None and reading.free is not None:
            onset_q = sign.onset_q(score)
            free.append(Hold(onset_q + reading.free.lead_q, onset_q + reading.free.held_q, reading.free.times))
            continue
        times = Fraction(1)
        if reading is not None and reading.name == "hold":
            times = reading.fraction("times", times)
        event = sign.main(score)
        if event.duration_q > 0:
            start_q = max(score.last_onset_q(event.end_q), event.onset_q)
            (wished if sign.place in decided else plain).append(Hold(start_q, event.end_q, times))
    kept = [hold for hold in (*_clear_of(wished, plain), *wished) if hold.times > 1]
    alone = {hold.start_q: hold for hold in (*_longest(_clear_of(free, kept)), *free)}
    return tuple(sorted(alone.values()))


def _clear_of(taken: Sequence[Hold], holds: Iterable[Hold]) -> list[Hold]:
    """The holds that meet none of those `taken`."""
    return [hold for hold in holds if not any(hold.start_q < one.end_q and one.start_q < hold.end_q for one in taken)]


def _longest(holds: Iterable[Hold]) -> list[Hold]:
    """Holds that meet made one, with the most of their times."""
    out: list[Hold] = []
    for hold in sorted(holds, key=lambda hold: (hold.start_q, hold.end_q)):
        if not out or hold.start_q >= out[-1].end_q:
            out.append(hold)
        elif hold.times > out[-1].times:
            out[-1] = Hold(out[-1].start_q, max(hold.end_q, out[-1].end_q), hold.times)
    return out


def silences_of(score: Score, signs: Iterable[Sign], readings: Mapping[str, Reading]) -> tuple[Silence, ...]:
    """When the others are silent under embellishments of fermatas, in order."""
    found = []
    for sign in signs:
        reading = readings.get(sign.place)
        if reading is not None and reading.free is not None and reading.free.held_q:
            free, onset_q = reading.free, sign.onset_q(score)
            start_q = onset_q + free.moment_q(max(free.lead_q, free.notes[0].value_q))
            found.append(Silence(start_q, onset_q + free.held_q, sign.part))
    return tuple(sorted(silence for silence in found if silence.start_q < silence.end_q))


def let_go(
    tones: list[Tone], part: int, silences: Sequence[Silence], order: Sequence[Occurrence], score: Score
) -> list[Tone]:
    """The tones of a part, cut where it is silent; a note that sounds on beyond the silence is held through it."""
    others = [silence for silence in silences if silence.part != part]
    if not others:
        return tones
    starts = [occurrence.onset_q for occurrence in order]
    return [_let_go(tone, others, _shift_q(tone, starts, order, score)) for tone in tones]


def _let_go(tone: Tone, silences: Sequence[Silence], shift_q: Fraction) -> Tone:
    onset_q, end_q = tone.onset_q - shift_q, tone.end_q - shift_q
    for silence in silences:
        if onset_q < silence.start_q < end_q <= silence.end_q:
            return tone._replace(duration_q=silence.start_q - onset_q, tied_on=False)
    return tone


def _shift_q(tone: Tone, starts: Sequence[Fraction], order: Sequence[Occurrence], score: Score) -> Fraction:
    occurrence = order[max(bisect_right(starts, tone.onset_q) - 1, 0)]
    return occurrence.onset_q - score.bars[occurrence.bar].onset_q


_ONSET = attrgetter("onset_q")


def held_tempos(tempos: tuple[TempoMark, ...], holds: Iterable[Hold]) -> tuple[TempoMark, ...]:
    """The tempo marks with the holds in them."""
    marks = {mark.onset_q: mark for mark in tempos}
    for hold in holds:
        resumed = tempo_in_force(tempos, hold.end_q)
        marks.setdefault(hold.end_q, resumed._replace(onset_q=hold.end_q))
        first = bisect_right(tempos, hold.start_q, key=_ONSET)
        for mark in tempos[first : bisect_left(tempos, hold.end_q, key=_ONSET)]:
            marks[mark.onset_q] = mark._replace(qpm=mark.qpm / hold.times)
        start = tempo_in_force(tempos, hold.start_q)
        marks[hold.start_q] = start._replace(onset_q=hold.start_q, qpm=start.qpm / hold.times)
    return tuple(marks[onset_q] for onset_q in sorted(marks))
