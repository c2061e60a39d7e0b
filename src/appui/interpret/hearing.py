"""The ways of playing an ornament that are worth hearing one against another: each sounds otherwise than the rest.

In words two ways may differ that on this note are one and the same, such as a turn "with the lower note raised" where
the lower note is a semitone already. So the solo is realized around the ornament in each of them, and what comes out
as the same notes, at the same times and with the same weight, is offered once.
"""

from __future__ import annotations

from collections.abc import Sequence

from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import realize
from appui.score.repeats import Occurrence, once
from appui.score.signs import Sign

__all__ = ["heard_as", "worth_hearing"]


def worth_hearing(interpretation: Interpretation, sign: Sign) -> tuple[str, ...]:
    """The alternatives of a choice, in words, without those that sound like it or like one before them."""
    choice = interpretation.choices[sign.place]
    ways = heard_as(interpretation, sign, (choice.reading.text, *choice.alternatives))
    return tuple(words for words in choice.alternatives if ways[words] == words)


def heard_as(interpretation: Interpretation, sign: Sign, ways: Sequence[str]) -> dict[str, str]:
    """For each of these ways of playing, in words, the first of them that sounds the same: itself, where none does."""
    # a hold moves the time of all parts and not the notes
    if sign.kind == "fermata":
        return {words: words for words in ways}
    order = _around(interpretation, sign)
    first: dict[frozenset[object], str] = {}
    return {words: first.setdefault(_sound(interpretation, sign, words, order), words) for words in dict.fromkeys(ways)}


def _around(interpretation: Interpretation, sign: Sign) -> Sequence[Occurrence]:
    """The bars an ornament can be heard in: from the one before it to the one after its note."""
    score, event = interpretation.score, sign.main(interpretation.score)
    last = min(score.bar_at(event.end_q).index + 1, len(score.bars) - 1)
    return once(score.bars, max(event.bar - 1, 0), last)


def _sound(interpretation: Interpretation, sign: Sign, words: str, order: Sequence[Occurrence]) -> frozenset[object]:
    changed = {sign.place: interpretation.reading(sign.place, words)}
    tones = realize(interpretation, order, changed, [sign.part]).tones[sign.part]
    return frozenset((tone.onset_q, tone.duration_q, tone.pitch, tone.level_db, tone.swell_db) for tone in tones)
