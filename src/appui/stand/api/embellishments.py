"""Embellishments: places, proposals, lines drawn and heard, what is kept."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from appui.interpret.interpretation import Interpretation
from appui.stand.api.answers import get, json_of, piece_of, post, sounded, stand_of, worked
from appui.stand.asked import embellish_wish, how_of, text_in
from appui.stand.embellishing import embellishment_of, places_record, proposals_at, with_embellishment
from appui.stand.heard import Sound
from appui.stand.view import piece_record

__all__ = ["ROUTES"]


async def _places(request: Request) -> Response:
    wish = embellish_wish(request.query_params)
    return JSONResponse(
        await worked(request, lambda: places_record(stand_of(request).open(piece_of(request)).interpretation, wish))
    )


async def _proposals(request: Request) -> Response:
    wish, place = embellish_wish(request.query_params), text_in(request.query_params, "place")
    return JSONResponse(
        await worked(
            request, lambda: proposals_at(stand_of(request).open(piece_of(request)).interpretation, place, wish)
        )
    )


async def _drawn(request: Request) -> Response:
    said = await json_of(request)
    place, entries = text_in(said, "place"), [str(each)[:2000] for each in list(said.get("entries") or ())[:8]]

    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        for entry in entries:
            embellishment_of(opened.interpretation, place, entry)
        return stand_of(request).drawer.line(opened, place, entries)

    return JSONResponse(await worked(request, work))


async def _sound(request: Request) -> Response:
    query = request.query_params
    how, place, entry = how_of(query), text_in(query, "place"), text_in(query, "entry")

    def work() -> Sound:
        player = stand_of(request).open(piece_of(request)).interpretation
        one = embellishment_of(player, place, entry)
        return stand_of(request).engine.ornament(with_embellishment(player, one), one.sign, "embellished", how)

    return await sounded(request, work)


async def _plain(request: Request) -> Response:
    query = request.query_params
    how, place, entry = how_of(query), text_in(query, "place"), text_in(query, "entry")

    def work() -> Sound:
        player = stand_of(request).open(piece_of(request)).interpretation
        one = embellishment_of(player, place, entry)
        offered = with_embellishment(player, one)
        return stand_of(request).engine.ornament(offered, one.sign, _as_printed(offered, one.sign.place), how)

    return await sounded(request, work)


async def _keep(request: Request) -> Response:
    said = await json_of(request)
    place, entry = text_in(said, "place"), said.get("entry")

    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        if entry is not None:
            embellishment_of(opened.interpretation, place, text_in(said, "entry"))
        kept = stand_of(request).desk.embellish(opened.entry, place, None if entry is None else text_in(said, "entry"))
        return piece_record(kept)

    return JSONResponse(await worked(request, work))


def _as_printed(player: Interpretation, place: str) -> str:
    choice = player.choices[place]
    if choice.reading.name != "embellished":
        return choice.reading.text
    return next((words for words in choice.alternatives if words != "embellished"), "plain")


_AT = "/api/pieces/{piece}"
ROUTES = [
    get(f"{_AT}/embellish", _places), get(f"{_AT}/proposals", _proposals), post(f"{_AT}/embellish/drawn", _drawn),
    get(f"{_AT}/embellish.wav", _sound), get(f"{_AT}/plain.wav", _plain), post(f"{_AT}/embellish", _keep),
]  # fmt: skip
