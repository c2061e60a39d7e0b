"""A piece: what it is, its pictures, its sound, what is decided, a take of it."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from appui.drill.sitting import now
from appui.stand.api.answers import body_of, get, json_of, piece_of, post, sounded, stand_of, worked
from appui.stand.asked import a4_of, how_of, number_in, text_in
from appui.stand.desk import Opened
from appui.stand.drawn import STAND_WIDTHS
from appui.stand.heard import Sound
from appui.stand.holding import Stand
from appui.stand.shelf import LARGEST_BYTES
from appui.stand.takes import LARGEST_BYTES as LARGEST_TAKE
from appui.stand.takes import heard
from appui.stand.view import piece_record, reading_record, shelf_record, sign_record

__all__ = ["ROUTES"]


async def _shelf(request: Request) -> Response:
    return JSONResponse(
        {"pieces": await worked(request, shelf_record, stand_of(request).shelf, stand_of(request).desk)}
    )


async def _add(request: Request) -> Response:
    data = await body_of(request, LARGEST_BYTES)
    entry = await worked(request, stand_of(request).shelf.add, text_in(request.query_params, "name"), data)
    return JSONResponse(await worked(request, lambda: piece_record(stand_of(request).desk.open(entry))))


async def _away(request: Request) -> Response:
    folder = await worked(request, stand_of(request).shelf.put_away, piece_of(request))
    return JSONResponse({"said": f"Moved into {folder}; nothing is deleted."})


async def _piece(request: Request) -> Response:
    return JSONResponse(await worked(request, lambda: piece_record(stand_of(request).open(piece_of(request)))))


async def _record(request: Request) -> Response:
    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        return reading_record(opened, _pictures(stand_of(request), opened, alone=False))

    return JSONResponse(await worked(request, work))


async def _drawn(request: Request) -> Response:
    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        return stand_of(request).drawer.reading(opened, alone=request.query_params.get("alone") == "1")

    return JSONResponse(await worked(request, work))


async def _large(request: Request) -> Response:
    width = int(number_in(request.query_params, "width", 1400, STAND_WIDTHS[0], STAND_WIDTHS[-1]))
    width = min(STAND_WIDTHS, key=lambda each: abs(each - width))
    return JSONResponse(
        await worked(request, lambda: stand_of(request).drawer.stand(stand_of(request).open(piece_of(request)), width))
    )


async def _written(request: Request) -> Response:
    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        sign = opened.interpretation.sign_at(text_in(request.query_params, "place"))
        words = [text[:200] for text in request.query_params.getlist("words")][:8]
        kept = [opened.interpretation.reading(sign.place, each).text for each in words]
        return stand_of(request).drawer.written(opened, sign.place, kept)

    return JSONResponse(await worked(request, work))


async def _decide(request: Request) -> Response:
    said = await json_of(request)

    def work() -> dict[str, Any]:
        entry = stand_of(request).shelf.entry(piece_of(request))
        words = said.get("words")
        place = text_in(said, "place")
        opened = stand_of(request).desk.decide(entry, place, None if words is None else text_in(said, "words"))
        number, told = sign_record(opened, place, {})
        return {"number": number, "sign": told, "piece": piece_record(opened)}

    return JSONResponse(await worked(request, work))


async def _settings(request: Request) -> Response:
    said = await json_of(request)

    def work() -> dict[str, Any]:
        entry = stand_of(request).shelf.entry(piece_of(request))
        return piece_record(stand_of(request).desk.choose_solo(entry, text_in(said, "solo"), text_in(said, "style")))

    return JSONResponse(await worked(request, work))


async def _here(request: Request) -> Response:
    said = await json_of(request)
    piece = stand_of(request).shelf.entry(piece_of(request)).id
    await worked(request, stand_of(request).shelf.remember, piece, text_in(said, "place"), now())
    return JSONResponse({})


async def _ornament(request: Request) -> Response:
    query = request.query_params
    how = how_of(query)

    def work() -> Sound:
        player = stand_of(request).open(piece_of(request)).interpretation
        sign = player.sign_at(text_in(query, "place"))
        words = text_in(query, "words") or player.choices[sign.place].reading.text
        return stand_of(request).engine.ornament(player, sign, words, how, int(number_in(query, "around", 1, 0, 4)))

    return await sounded(request, work)


async def _bars(request: Request) -> Response:
    query = request.query_params
    how, readings = how_of(query), _pairs(query.getlist("reading"))

    def work() -> Sound:
        player = stand_of(request).open(piece_of(request)).interpretation
        return stand_of(request).engine.bars(player, text_in(query, "bars") or None, readings, how)

    return await sounded(request, work)


async def _take(request: Request) -> Response:
    data, query = await body_of(request, LARGEST_TAKE), request.query_params
    how = how_of(query)

    def work() -> dict[str, Any]:
        player = stand_of(request).open(piece_of(request)).interpretation.at_tempo(how.tempo)
        return heard(player, data, text_in(query, "bars"), a4_of(query))

    return JSONResponse(await worked(request, work))


def _pictures(stand: Stand, opened: Opened, *, alone: bool) -> Any:
    drawn = stand.drawer.reading(opened, alone=alone)["pictures"]
    return {place: (tuple(small), tuple(glyphs), main) for place, (small, glyphs, main) in drawn.items()}


def _pairs(said: list[str]) -> dict[str, str]:
    """``PLACE=WAY`` of a query, at most 200."""
    pairs = [each.partition("=") for each in said[:200]]
    return {place: words for place, equals, words in pairs if equals}


_AT = "/api/pieces/{piece}"
ROUTES = [
    get("/api/shelf", _shelf), post("/api/shelf", _add), post(f"{_AT}/away", _away), get(_AT, _piece),
    get(f"{_AT}/record", _record), get(f"{_AT}/pictures", _drawn), get(f"{_AT}/large", _large),
    get(f"{_AT}/written", _written), post(f"{_AT}/decide", _decide), post(f"{_AT}/settings", _settings),
    post(f"{_AT}/here", _here), get(f"{_AT}/ornament.wav", _ornament), get(f"{_AT}/bars.wav", _bars),
    post(f"{_AT}/take", _take),
]  # fmt: skip
