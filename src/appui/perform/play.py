"""An interpretation performed: some bars, in some parts, with some readings changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import Realized, realize
from appui.perform.levels import LevelCurve
from appui.perform.model import Performance
from appui.perform.perform import Take, perform
from appui.perform.pitches import pitches_without_key
from appui.score.repeats import Occurrence
from appui.style.reading import Reading

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
    take = Take(
        interpretation.held(changed),
        order,
        done.tones,
        interpretation.factor if factor is None else factor,
        interpretation.solo.index,
        words,
        curves={index: _curve(interpretation, index) for index in done.tones},
    )
    odd = [words for part in done.tones for words in _odd(interpretation, part)]
    return replace(perform(take), notices=(*done.notices, *odd))


def _odd(interpretation: Interpretation, part: int) -> tuple[tuple[str, str], ...]:
    score = interpretation.score
    return interpretation.analysis.once(("odd pitches", part), lambda: pitches_without_key(score, score.parts[part]))


def _curve(interpretation: Interpretation, part: int) -> LevelCurve:
    analysis = interpretation.analysis
    return analysis.once(("level curve", part), lambda: LevelCurve.of(analysis.score.parts[part]))
