"""From a wish to its proposals: the places, what is proposed at each, what is left alone.

A place that is asked for by name is planned as a part of the whole solo: number 1 there is the number 1 that stands
there when everything is asked for, so that what is kept one by one still belongs together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from appui.embellish.choose import Found, propose_all
from appui.embellish.model import LeftAlone, Place, Wish
from appui.embellish.places import find_places, meet
from appui.interpret.interpretation import Interpretation

__all__ = ["leading_to", "propose_wished"]


def propose_wished(interpretation: Interpretation, wish: Wish) -> tuple[list[Found], list[LeftAlone]]:
    """The proposals of every place that is wished for, in order, and what is left alone.

    Raises `UsageError` for a kind that is none, `PlaceError` for a place with nothing to embellish.
    """
    wanted, left = find_places(interpretation, wish)
    if not wish.places:
        return propose_all(interpretation, wanted, wish), left
    others, _ = find_places(interpretation, replace(wish, places=()))
    row = [each for each in others if not any(meet(each.span, place.span) for place in wanted)]
    row = leading_to(sorted({*row, *wanted}, key=lambda place: place.span.first), wanted)
    found = {each.place: each for each in propose_all(interpretation, row, wish)}
    return [found[place] for place in wanted], left


def leading_to(row: Sequence[Place], wanted: Sequence[Place]) -> list[Place]:
    """The wanted places of a row, and before each those that run into it: how they end decides how it begins."""
    kept: list[Place] = []
    for place in reversed(row):
        if place in wanted or (kept and place.span.last + 1 == kept[-1].span.first):
            kept.append(place)
    return kept[::-1]
