"""Ear training: sittings, their sound, answers, progress."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from appui.stand.api.answers import get, json_of, post, stand_of, worked
from appui.stand.asked import number_in, text_in

__all__ = ["ROUTES"]


async def _begin(request: Request) -> Response:
    said = await json_of(request)

    def work() -> dict[str, Any]:
        piece = text_in(said, "piece")
        player = stand_of(request).open(piece).interpretation if piece else None
        name, trials = text_in(said, "name") or "me", int(number_in(said, "trials", 50, 1, 200))
        return stand_of(request).ear.begin(text_in(said, "kind"), player, name, trials)

    return JSONResponse(await worked(request, work))


async def _sound(request: Request) -> Response:
    number = int(number_in(request.query_params, "interval", 0, 0, 9))
    return Response(stand_of(request).ear.sound(request.path_params["sitting"], number), media_type="audio/wav")


async def _answer(request: Request) -> Response:
    given = int(number_in(await json_of(request), "given", 0, 0, 9))
    return JSONResponse(await worked(request, stand_of(request).ear.answer, request.path_params["sitting"], given))


async def _progress(request: Request) -> Response:
    return JSONResponse(await worked(request, stand_of(request).ear.progress, request.query_params.get("name") or None))


ROUTES = [
    post("/api/ear", _begin), get("/api/ear/{sitting}/sound.wav", _sound), post("/api/ear/{sitting}", _answer),
    get("/api/ear", _progress),
]  # fmt: skip
