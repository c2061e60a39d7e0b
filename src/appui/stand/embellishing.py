"""Embellishments in the browser: the places, what is proposed, and lines the player writes or edits."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from appui.embellish.choose import propose_all
from appui.embellish.model import KINDS, Wish
from appui.embellish.places import find_places
from appui.embellish.proposing import leading_to
from appui.errors import PlaceError, PlanError
from appui.interpret.interpretation import Interpretation, offering
from appui.plan.embellishment import Embellishment, entry_text, read_embellishments
from appui.plan.free_notes import notes_text

__all__ = ["embellishment_of", "places_record", "proposals_at", "with_embellishment"]

_NO_FILE = Path("the line")


def places_record(player: Interpretation, wish: Wish) -> dict[str, Any]:
    """The places where something may be added, and in a few words what is left alone."""
    found, left = find_places(player, wish)
    own = {one.place for one in player.embellishments.values()}
    return {
        "places": [
            {
                "place": place.place,
                "kind": place.kind,
                "what": KINDS[place.kind],
                "why": place.why,
                "source": place.source,
                "kept": place.place in own,
            }
            for place in found
        ],
        "leftAlone": [{"place": each.place, "why": each.why} for each in left[:20]],
        "leftCount": len(left),
    }


def proposals_at(player: Interpretation, place: str, wish: Wish) -> dict[str, Any]:
    """What is proposed at one place, each with the line of a plan it is; raises `PlaceError` for no such place."""
    found, _ = find_places(player, wish)
    wanted = [each for each in found if each.place == place]
    if not wanted:
        raise PlaceError(player.score.file, f"nothing can be added at {place!r}", "take a place of the list")
    # in time those of one number belong to one variation of the whole
    made = propose_all(player, leading_to(found, wanted), wish)[-1]
    own = next((one for one in player.embellishments.values() if one.place == place), None)
    return {
        "place": place,
        "why": wanted[0].why,
        "source": wanted[0].source,
        "none": made.why_none,
        "proposals": [
            {
                "words": one.words,
                "notes": notes_text(one.line),
                "entry": entry_text(place, one.embellishment.free),
            }
            for one in made.proposals
        ],
        "kept": entry_text(place, own.free) if own is not None else "",
    }


def embellishment_of(player: Interpretation, place: str, entry: str) -> Embellishment:
    """One line of a plan, read and checked; raises `PlanError` with what is wrong in it."""
    try:
        table = tomllib.loads(entry)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(
            "the line", f"is no line of a plan: {error}", 'write "PLACE" = { over = "1/4", notes = "…" }'
        ) from None
    said = table.get(place)
    if len(table) != 1 or not isinstance(said, dict) or "snippet" in said:
        raise PlanError(
            "the line",
            f"has to be one for {place}, with its notes in it",
            'write "PLACE" = { over = "1/4", notes = "…" }',
        )
    analysis = player.analysis
    found = read_embellishments(table, lambda _: "", _NO_FILE, player.score, analysis.signs, analysis.ground)
    return next(iter(found.values()))


def with_embellishment(player: Interpretation, one: Embellishment) -> Interpretation:
    """The piece with this embellishment on offer at its place, in place of the plan's own there."""
    plan = player.plan
    if plan is not None:
        kept = {key: each for key, each in plan.embellishments.items() if key != one.sign.place}
        plan = replace(plan, embellishments=kept)
    return offering(replace(player, plan=plan), [one])
