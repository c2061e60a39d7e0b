"""Long rests of the solo made short: of each only its last bars are played, and they are counted."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import groupby

from appui.exact import Fraction
from appui.score.model import Score
from appui.score.repeats import Occurrence

__all__ = ["shortened"]


def shortened(
    score: Score, order: Sequence[Occurrence], solos: Collection[int], keep: int
) -> tuple[tuple[Occurrence, ...], frozenset[int]]:
    """The bars to be played, and which of them, by their place in that order, end a rest that was cut.

    `solos` are the parts, by index, whose rests of more than `keep` bars are cut; a piece without solos stays whole.
    """
    playing = {
        event.bar
        for index in solos
        for voice in score.parts[index].voices
        for event in voice.events
        if any(not note.silent for note in event.notes)
    }
    kept: list[Occurrence] = []
    counted: set[int] = set()
    at_q = Fraction(0)
    for each, cut in _kept(order, playing, keep):
        if cut:
            counted.add(len(kept))
        kept.append(each._replace(onset_q=at_q))
        at_q += score.bars[each.bar].length_q
    return tuple(kept), frozenset(counted)


def _kept(order: Sequence[Occurrence], playing: Collection[int], keep: int) -> Iterator[tuple[Occurrence, bool]]:
    for plays, group in groupby(order, key=lambda each: each.bar in playing):
        bars = list(group)
        long = not plays and len(bars) > keep and len(bars) < len(order)
        yield from ((each, long) for each in (bars[-keep:] if long else bars))
