"""Places as people type them: a bare bar and beat where one part is meant, and what is nearest where nothing stands.

Near is what is near in the music: the same part, the fewest beats away; not what is spelled alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from appui.exact import Fraction
from appui.score.model import Score
from appui.score.signs import Sign, bar_names, part_slugs, slug

__all__ = ["full_place", "nearest", "nearest_places"]

_BEAT = re.compile(r"(?P<beat>\d{1,4})(?:\+(?P<part>\d{1,4}/[1-9]\d{0,3}))?(?:\.\d{1,4})?")
_NEAR = 3


def full_place(score: Score, place: str, solo: int) -> str:
    """A place with the part in it: that of the solo (index) where only bar and beat are typed.

    The beginning of a part's name will do, as for ``--solo``.
    """
    part, rest = _divided(score, place.strip(), solo)
    return f"{part_slugs(score)[part]}.{rest}"


def nearest(score: Score, signs: Sequence[Sign], place: str, solo: int) -> str:
    """What to say of a place where no sign stands: whether its bar is there, and which signs are near it."""
    if not signs:
        return "the score has no ornaments"
    names = bar_names(score)
    bar = _divided(score, place.strip(), solo)[1].partition(".")[0]
    near = nearest_places(score, [(sign.place, sign.part, sign.onset_q(score)) for sign in signs], place, solo)
    listed = f"near it: {', '.join(near)}"
    return listed if bar in names else f"bar {bar!r} is not there: its bars are {names[0]} to {names[-1]}; {listed}"


def nearest_places(
    score: Score, places: Iterable[tuple[str, int, Fraction]], place: str, solo: int, count: int = _NEAR
) -> list[str]:
    """The places nearest to one that is not there; each of `places` is its name, its part by index, and its onset."""
    part, rest = _divided(score, place.strip(), solo)
    known = list(places)
    near = [each for each in known if each[1] == part] or known
    at_q = _moment(score, rest)
    return [name for name, _, _ in sorted(near, key=lambda each: abs(each[2] - at_q))[:count]]


def _divided(score: Score, place: str, solo: int) -> tuple[int, str]:
    """The part a place begins with, by index, and the rest."""
    names = part_slugs(score)
    for part, name in sorted(enumerate(names), key=lambda each: -len(each[1])):
        if place.lower().startswith(f"{name}."):
            return part, place[len(name) + 1 :]
    first, _, rest = place.partition(".")
    begun = [part for part, name in enumerate(names) if slug(first) and name.startswith(slug(first))]
    if len(begun) == 1 and "." in rest:
        return begun[0], rest
    # words before a bar that name no part: what they stand before is looked for in the solo
    return solo, rest if "." in rest and first not in bar_names(score) else place


def _moment(score: Score, rest: str) -> Fraction:
    """The moment of a bar and beat; of a bar that is not there the end of the score, or its start for no number."""
    names = bar_names(score)
    bar, _, beat = rest.partition(".")
    if bar not in names:
        return score.length_q if bar.isdecimal() and int(bar) else Fraction(0)
    found, match = score.bars[names.index(bar)], _BEAT.fullmatch(beat)
    if match is None:
        return found.onset_q
    beats = int(match["beat"]) - 1 + Fraction(match["part"] or 0)
    return found.onset_q + beats * found.meter.beat_q - found.lead_q
