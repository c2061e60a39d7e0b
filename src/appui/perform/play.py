"""An interpretation performed: some bars, in some parts, with some readings changed."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, holds_played, plan_notices, readings_of
from appui.interpret.realizing import Realized, realize
from appui.perform.levels import LevelCurve
from appui.perform.model import Performance
from appui.perform.perform import Take, perform
from appui.perform.pitches import pitches_without_key
from appui.score.repeats import Occurrence
from appui.style.reading import Reading

if TYPE_CHECKING:
    from appui.perform.pace import Pace
    from appui.perform.shaping import Shaping
    from appui.perform.sheet import Sheet

__all__ = ["play", "play_realized"]


def play(
    interpretation: Interpretation,
    order: Sequence[Occurrence],
    changed: Mapping[str, Reading] | None = None,
    parts: Sequence[int] | None = None,
    *,
    factor: Fraction | None = None,
) -> Performance:
    """A performance of these bars and parts (all by default), with some readings changed by place.

    `factor` multiplies the written tempo; left out, it is the interpretation's.
    """
    return play_realized(interpretation, order, realize(interpretation, order, changed, parts), changed, factor=factor)


def play_realized(
    interpretation: Interpretation,
    order: Sequence[Occurrence],
    done: Realized,
    changed: Mapping[str, Reading] | None = None,
    *,
    factor: Fraction | None = None,
) -> Performance:
    """The same where the tones have been realized already."""
    words = {place: choice.reading.text for place, choice in interpretation.choices.items() if choice.realized}
    words |= {place: reading.text for place, reading in (changed or {}).items()}
    shaped = _shaping(interpretation) if interpretation.wishes.shape == "shaped" else None
    take = Take(
        interpretation.held(changed),
        order,
        done.tones,
        interpretation.factor if factor is None else factor,
        interpretation.solo.index,
        frozenset(part.index for part in interpretation.solos),
        words,
        curves={index: _curve(interpretation, index) for index in done.tones},
        shaping=shaped,
        asked=_asked(interpretation, changed) if shaped is not None else (),
        style_db=float(interpretation.style.weight_db),
        pace=_pace(interpretation, changed) if interpretation.wishes.time == "shaped" else None,
        long_notes_swell=interpretation.wishes.long_notes == "swell",
    )
    odd = [words for part in done.tones for words in _odd(interpretation, part)]
    return replace(perform(take), notices=(*plan_notices(interpretation), *done.notices, *odd))


def _odd(interpretation: Interpretation, part: int) -> tuple[tuple[str, str], ...]:
    score = interpretation.score
    return interpretation.analysis.once(("odd pitches", part), lambda: pitches_without_key(score, score.parts[part]))


def _sheet(interpretation: Interpretation) -> Sheet:
    """The notes of the score, found once for each solo."""
    from appui.perform.sheet import sheet_of

    analysis, solo = interpretation.analysis, interpretation.solo.index
    return analysis.once(("sheet", solo), lambda: sheet_of(analysis.score, solo))


def _shaping(interpretation: Interpretation) -> Shaping:
    """What shapes the levels of the score, found once for each solo."""
    from appui.perform.shaping import Shaping

    analysis, weighed = interpretation.analysis, interpretation.wishes.written_out_db is not None

    def made() -> Shaping:
        leans = {} if weighed else dict(_written_out(interpretation))
        return Shaping(_sheet(interpretation), leans)

    return analysis.once(("shaping", interpretation.solo.index, weighed), made)


def _pace(interpretation: Interpretation, changed: Mapping[str, Reading] | None) -> Pace:
    """What shapes the time of the score, found once; the holds are those of these readings."""
    from appui.perform.pace import pace_of

    analysis = interpretation.analysis
    pace = analysis.once(
        ("pace", interpretation.solo.index), lambda: pace_of(_sheet(interpretation), interpretation.order())
    )
    return pace.holding([(hold.start_q, hold.end_q) for hold in holds_played(interpretation, changed)])


def _written_out(
    interpretation: Interpretation,
) -> Iterator[tuple[tuple[int, Fraction, float], tuple[Fraction, float]]]:
    """Leaning notes printed full size: part, onset and pitch, then onset and pitch of the release."""
    for one in interpretation.analysis.written_out:
        events = interpretation.score.parts[one.part].voices[one.voice].events
        lean, release = events[one.event], events[one.resolution]
        yield (one.part, lean.onset_q, float(one.pitch.midi)), (release.onset_q, float(one.target.midi))


def _asked(interpretation: Interpretation, changed: Mapping[str, Reading] | None) -> Container[str]:
    """The places whose weight somebody has asked for: all of them where the player has."""
    readings = readings_of(interpretation, changed)
    if interpretation.wishes.weight_db is not None:
        return readings.keys()
    return {place for place, reading in readings.items() if reading.get("weight_db") is not None}


def _curve(interpretation: Interpretation, part: int) -> LevelCurve:
    analysis = interpretation.analysis
    return analysis.once(("level curve", part), lambda: LevelCurve.of(analysis.score.parts[part]))
