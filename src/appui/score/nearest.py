"""Places as people type them: a bare bar and beat where one part is meant, and what is nearest where nothing stands.

Near is what is near in the music: the same part, the fewest beats away; not what is spelled alike.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from appui.exact import Fraction
from appui.score.model import Score
from appui.score.signs import Sign, bar_names, part_slugs, slug

__all__ = ["full_place", "nearest"]

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
    part, rest = _divided(score, place.strip(), solo)
    names = bar_names(score)
    bar, _, beat = rest.partition(".")
    bare = f"bar {bar!r} is not there: its bars are {names[0]} to {names[-1]}"
    near = [sign for sign in signs if sign.part == part] or list(signs)
    if not near:
        return "the score has no ornaments"
    if bar not in names:
        return f"{bare}; its ornaments begin at {near[0].place}"
    at_q = _moment(score, names.index(bar), beat)
    near.sort(key=lambda sign: abs(sign.onset_q(score) - at_q))
    return f"near it: {', '.join(sign.place for sign in near[:_NEAR])}"


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


def _moment(score: Score, bar: int, beat: str) -> Fraction:
    found = score.bars[bar]
    match = _BEAT.fullmatch(beat)
    if match is None:
        return found.onset_q
    beats = int(match["beat"]) - 1 + Fraction(match["part"] or 0)
    return found.onset_q + beats * found.meter.beat_q - found.lead_q
