"""What is said of a turn, a mordent, a slide: which notes, where they fall, how quick; or why that is not told.

Three ways are weighed. On the beat the first note falls on it; before the beat the last does, the main note at rest.
After the beat the main note falls on it and is held, and the quick notes come later. A first note of the pitch before
it makes no sound of its own where it is slurred: then the notes that are heard come later by about one quick note, and
it is told by that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from appui.listen.beat import SURE, Beat, near
from appui.listen.figures import form_of, forms_for, is_usual, reach_of
from appui.listen.heard import HeardFigure
from appui.score.words import SignKind

__all__ = ["FigureHeard", "Ground", "Laid", "Said", "Where", "laid", "say_figure"]

Where = Literal["before", "on", "after", "played", "left out", "cannot tell"]
#  a figure is there, or is not, where the evidence is beyond
THERE, AWAY = 2.0, -11.0
#  its notes are told where they fit so much better than any others
MARGIN = 6.0
#  a first main note so many times as long as the quick notes, and so many seconds, is held, and the figure comes after
#  it; a last one is at rest
_HELD, _HELD_S = 1.8, 0.15
#  a note that makes no sound of its own lasts as long as the others, give or take this share
_GIVE = 0.4
#  how much likelier a form usual for the sign is (natural logarithm)
_USUAL = 1.0
#  how much less likely a figure is before its beat (natural logarithm): on it or after it is usual, common practice, no
#  source
_BEFORE = -1.4
#  notes longer than this are no quick ones, seconds
_SLOW_S = 0.22
#  what is further from its beat than so many spreads, and these seconds, is something else
_FAR, _FAR_S = 4.0, 0.2
_NO_BEAT = "too few plain notes near it to know where the beat is"


class Laid(NamedTuple):
    """How the notes of a figure lie: which of them is the first quick one, how long one lasts, how long all of them."""

    first: int
    quick_s: float
    length_s: float


@dataclass(frozen=True, slots=True)
class FigureHeard:
    """The notes of a figure: its name, keys, when each begins (`nan` for one that makes no sound of its own), the end.

    `sure` says that these notes are meant, `near_sure` that their neighbours are a half or a whole tone away as told,
    `first_sure` whether it is known if a note of the pitch before comes first. `at_share` is which share of the note is
    over when the quick notes begin, `nan` where they are not after it. `quick_s` is how long one lasts, `length_s` how
    long all of them together.
    """

    name: str
    keys: tuple[int, ...]
    starts_s: tuple[float, ...]
    end_s: float
    sure: bool
    near_sure: bool
    first_sure: bool
    at_share: float
    quick_s: float
    length_s: float


class Said(NamedTuple):
    """What is said: where it falls, the chance that this is right, and of being on the beat; why not more."""

    how: Where
    confidence: float
    on: float
    why: tuple[str, ...] = ()
    figure: FigureHeard | None = None


class _Way(NamedTuple):
    """One way it may have been: where it falls, whether a first note without a sound is counted, the log density."""

    how: Literal["before", "on", "after"]
    with_first: bool
    density: float
    away_s: float


def laid(keys: Sequence[int], starts_s: Sequence[float], end_s: float) -> Laid:
    """How notes lie that come to rest on their last."""
    main, lengths = keys[-1], [later - at for at, later in zip(starts_s, [*starts_s[1:], end_s], strict=True)]
    inner = sorted(lengths[1:-1] or lengths[:-1])
    quick_s = inner[len(inner) // 2]
    late = len(keys) > 2 and keys[0] == main and lengths[0] > max(_HELD * quick_s, _HELD_S)
    rests = lengths[-1] > _HELD * quick_s or not late
    return Laid(int(late), quick_s, (starts_s[-1] if rests else end_s) - starts_s[int(late)])


class Ground(NamedTuple):
    """What a figure stands on: its beat and how well that is known, its length, the key before it, its sign."""

    beat: Beat
    spread_s: float
    note_s: float
    before: int
    kind: SignKind


def say_figure(figure: HeardFigure, ground: Ground) -> Said:
    """What is said of a figure."""
    if figure.evidence < AWAY:
        return Said("left out", 0.95, 0.5)
    if figure.evidence < THERE:
        return Said("cannot tell", 0.5, 0.5, why=("quick notes are too faint or too short to be sure of them",))
    lies = laid(figure.keys, figure.starts_s, figure.end_s)
    if lies.quick_s > _SLOW_S:
        return Said("cannot tell", 0.5, 0.5, why=("the notes heard around it are slow: perhaps others",))
    if not math.isfinite(ground.beat.spread_s):
        sure = not _extended(figure, ground)
        told = _figure(figure, figure.keys, figure.starts_s, ground, first_sure=sure)
        return Said("played", 0.5, 0.5, (_NO_BEAT,), told)
    ways = _ways(figure, ground, lies)
    if min(abs(way.away_s) for way in ways) > max(_FAR * ground.spread_s, _FAR_S):
        return Said("cannot tell", 0.5, 0.5, why=("the quick notes heard are far from the beat: perhaps others",))
    return _weighed(figure, ground, ways)


def _weighed(figure: HeardFigure, ground: Ground, ways: Sequence[_Way]) -> Said:
    """The likeliest way, if it is likely enough."""
    chances = _chances(ways)
    falls = {way.how: 0.0 for way in ways}
    for way, chance in zip(ways, chances, strict=True):
        falls[way.how] += chance
    how = max(falls, key=lambda each: falls[each])
    first = sum(chance for way, chance in zip(ways, chances, strict=True) if way.how == how and way.with_first)
    first /= falls[how]
    # of a figure before the beat it is not known how early it begins
    sure = not _extended(figure, ground) or (how != "before" and max(first, 1 - first) >= SURE)
    keys, starts_s = figure.keys, figure.starts_s
    if first > 0.5 and sure:
        keys, starts_s = (ground.before, *keys), (math.nan, *starts_s)
    told = _figure(figure, keys, starts_s, ground, first_sure=sure)
    if falls[how] < SURE:
        why = (f"the beat is known here to {1000 * ground.beat.spread_s:.0f} ms only",)
        return Said("played", falls[how], falls.get("on", 0.0), why, told)
    return Said(how, falls[how], falls.get("on", 0.0), (), told)


def _extended(figure: HeardFigure, ground: Ground) -> bool:
    """Whether a note of the pitch before, and then these notes, are a form of the trade too."""
    near = abs(ground.before - figure.keys[-1]) <= reach_of(ground.kind)
    return near and form_of((ground.before, *figure.keys), ground.kind) in forms_for(ground.kind)


def _ways(figure: HeardFigure, ground: Ground, lies: Laid) -> list[_Way]:
    first_s, last_s = figure.starts_s[0] - ground.beat.at_s, figure.starts_s[-1] - ground.beat.at_s
    spread_s = ground.spread_s
    ways = [_Way("after" if lies.first else "on", False, near(first_s, spread_s), first_s)]
    if not lies.first:
        ways.append(_Way("before", False, _BEFORE + near(last_s, spread_s), last_s))
    if not _extended(figure, ground):
        return ways
    away_s, wide_s = first_s - lies.quick_s, math.hypot(spread_s, _GIVE * lies.quick_s)
    forms = form_of((ground.before, *figure.keys), ground.kind), form_of(figure.keys, ground.kind)
    usual = _USUAL * (is_usual(ground.kind, forms[0]) - is_usual(ground.kind, forms[1]))
    ways.append(_Way("on", True, usual + near(away_s, wide_s), away_s))
    if ground.before == figure.keys[-1] and _HELD * lies.quick_s < first_s < ground.note_s:
        ways.append(_Way("after", True, usual - math.log(ground.note_s), 0.0))
    return ways


def _chances(ways: Sequence[_Way]) -> list[float]:
    top = max(way.density for way in ways)
    weights = [math.exp(way.density - top) for way in ways]
    return [weight / sum(weights) for weight in weights]


def _figure(
    figure: HeardFigure, keys: tuple[int, ...], starts_s: tuple[float, ...], ground: Ground, *, first_sure: bool
) -> FigureHeard:
    begins_s = ground.beat.at_s if math.isnan(starts_s[0]) else starts_s[0]
    lies = laid(keys, (begins_s, *starts_s[1:]), figure.end_s)
    at_share = (starts_s[1] - begins_s) / ground.note_s if lies.first else math.nan
    return FigureHeard(
        forms_for(ground.kind).get(form_of(keys, ground.kind), "figure"),
        keys,
        starts_s,
        figure.end_s,
        sure=figure.over_other >= MARGIN,
        near_sure=figure.over_near >= MARGIN,
        first_sure=first_sure,
        at_share=at_share,
        quick_s=lies.quick_s,
        length_s=lies.length_s if first_sure else math.nan,
    )
