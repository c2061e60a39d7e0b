"""The movements of a score: where each begins and what stands over it.

A movement begins at the first bar, and

- where the number of a bar is at most 1 and below that of the bar before it: bars are counted anew;
- where bars are counted on, but the next has tempo words, and the bar before ends in a final barline where key or meter
  change; or, as many files have no such barline, where two of three are new: the key, the meter, a pickup. Not after a
  fermata, not after a short slower introduction, and not where the same words come back in the same key and meter:
  those are sections of one movement. (A trio has no tempo of its own as a rule, and a variation not all of this: common
  practice, no source.)

A bar without a number of its own after a final barline is the pickup of what follows; others belong to what goes
before.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from operator import attrgetter, itemgetter
from typing import NamedTuple

from appui.errors import PlaceError
from appui.exact import Fraction
from appui.score.model import Bar, Part, Score, TempoMark
from appui.score.tempo_words import tempo_character, tempo_word

__all__ = ["Movement", "find_movement", "movement_of", "movements", "with_headings"]

#  of more than so many none is one: bars are counted in some other way
_MOST = 1_000
#  so many bars at most are an introduction (a choice of ours)
_INTRODUCTION = 48
#  what may be a title: it begins with a capital or a numeral, and is no sentence
_TITLE = re.compile(r"(?=.{2,60}$)[A-ZÀ-Ý0-9]", re.DOTALL)


class Movement(NamedTuple):
    """One movement: its number from 1, its first and last bar by index (inclusive), what stands over it or nothing."""

    number: int
    first: int
    last: int
    heading: str = ""

    @property
    def name(self) -> str:
        """Number and heading, as in ``2 Adagio``."""
        return f"{self.number} {self.heading}".strip()


def movements(score: Score) -> tuple[Movement, ...]:
    """The movements in order; a score that is one piece has one."""
    starts = [0, *(bar.index for bar in score.bars[1:] if bar.heading is not None), len(score.bars)]
    return tuple(
        Movement(number, first, stop - 1, score.bars[first].heading or "" if score.bars else "")
        for number, (first, stop) in enumerate(pairwise(starts), 1)
    )


def movement_of(found: tuple[Movement, ...], bar: int) -> Movement:
    """The movement that a bar, by index, lies in."""
    return found[bisect_right(found, bar, key=attrgetter("first")) - 1]


def find_movement(score: Score, wanted: str) -> Movement:
    """The movement a player names: by its number from 1, or by words that stand over it, as ``adagio``.

    Raises `PlaceError` listing the movements where none or several fit.
    """
    found, words = movements(score), " ".join(wanted.split()).lower()
    if words.isdecimal() and 1 <= int(words) <= len(found):
        return found[int(words) - 1]
    exact = [each for each in found if words and words == each.heading.lower()]
    near = exact or [each for each in found if words and words in each.heading.lower()]
    if len(near) == 1:
        return near[0]
    listed = ", ".join(each.name for each in found)
    problem = f"has several movements with {wanted!r} over them" if near else f"has no movement {wanted!r}"
    raise PlaceError(score.file, f"{problem}; its movements are {listed}", "give the number of one of them")


def with_headings(
    bars: Sequence[Bar], parts: Sequence[Part], tempos: Sequence[TempoMark], texts: Iterable[tuple[int, str]]
) -> tuple[Bar, ...]:
    """The bars, those that begin a movement with what stands over them.

    `texts` are words printed at the beginning of a bar, with its index.
    """
    said = {mark.onset_q: mark.words for mark in tempos if tempo_word(mark.words)}
    starts = {0, *_counted_anew(bars), *_told_apart(bars, parts, said)}
    if len(starts) > _MOST:
        starts = {0}
    titles = _titles(texts, starts)
    return tuple(
        replace(bar, heading=said.get(bar.onset_q) or titles.get(bar.index, "")) if bar.index in starts else bar
        for bar in bars
    )


def _counted_anew(bars: Sequence[Bar]) -> Iterator[int]:
    seen: int | None = None
    for index, bar in enumerate(bars):
        number = _number(bar.number)
        if number is None:
            continue
        if number <= 1 and seen is not None and seen > 1:
            yield index - 1 if _is_pickup(bars, index - 1) else index
        seen = number


def _is_pickup(bars: Sequence[Bar], index: int) -> bool:
    """Whether a bar without a number of its own stands after a final barline."""
    return index > 0 and _number(bars[index].number) is None and bars[index - 1].final


def _told_apart(bars: Sequence[Bar], parts: Sequence[Part], said: Mapping[Fraction, str]) -> Iterator[int]:
    keys = [(key.onset_q, key.fifths) for key in parts[0].keys] if parts else []
    begun = {
        bar.index: (said[bar.onset_q].lower(), _in_force(keys, bar), bar.meter) for bar in bars if bar.onset_q in said
    }
    often = Counter(begun.values())
    held = {event.bar for part in parts for voice in part.voices for event in voice.events if event.fermata}
    for before, bar in pairwise(bars):
        if bar.index not in begun:
            continue
        changed = _in_force(keys, before) != _in_force(keys, bar), before.meter != bar.meter
        if before.final and any(changed):
            yield bar.index
            continue
        enough = sum((*changed, bar.length_q < bar.meter.bar_q)) > 1 and often[begun[bar.index]] == 1
        introduced = bar.index <= _INTRODUCTION and _quickens(said, bars[0], bar)
        if enough and not introduced and not before.fermata_at_end and before.index not in held:
            yield bar.index


def _quickens(said: Mapping[Fraction, str], first: Bar, bar: Bar) -> bool:
    """Whether a slower tempo leads into a quick one."""
    return tempo_character(said[bar.onset_q]) == "fast" != tempo_character(said.get(first.onset_q, ""))


def _in_force(keys: Sequence[tuple[Fraction, int]], bar: Bar) -> int:
    """The fifths of the key at the beginning of a bar."""
    index = bisect_right(keys, bar.onset_q, key=itemgetter(0))
    return keys[index - 1][1] if index else 0


def _titles(texts: Iterable[tuple[int, str]], starts: set[int]) -> dict[int, str]:
    """The first text over each beginning that may be a title."""
    found: dict[int, str] = {}
    for bar, words in texts:
        plain = " ".join(words.split())
        if bar in starts and _TITLE.match(plain):
            found.setdefault(bar, plain)
    return found


def _number(text: str) -> int | None:
    match = re.fullmatch(r"\s*(\d{1,6})\s*", text)
    return int(match[1]) if match else None
