"""The documents: the shelf, and the rooms of a piece."""

from __future__ import annotations

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from appui.stand import rooms
from appui.stand.api.answers import get, piece_of, stand_of, worked
from appui.stand.ear import kinds_record
from appui.stand.guard import Door
from appui.stand.shelf import LARGEST_BYTES
from appui.stand.view import bars_record, piece_record, reading_record

__all__ = ["ROUTES", "nothing"]


def nothing() -> Response:
    """The answer where there is nothing."""
    return Response("There is nothing here. The shelf is at /\n", 404, media_type="text/plain")


def _token(request: Request) -> str:
    """What a page sends with a change, empty for who may not change anything."""
    door: Door = request.app.state.door
    who = request.scope["appui_who"]
    return door.token(who) if door.may_change(who) else ""


async def _shelf(request: Request) -> Response:
    data = {"may": bool(_token(request)), "largest": LARGEST_BYTES}
    return HTMLResponse(rooms.room("shelf", "The shelf", data, _token(request)))


async def _room(request: Request) -> Response:
    name = request.path_params["room"]
    if name not in rooms.SCRIPTS or name == "shelf":
        return nothing()
    opened = await worked(request, stand_of(request).open, piece_of(request))
    # who opens a room will press something in it
    warmed = BackgroundTask(stand_of(request).engine.warm, opened.interpretation)
    data = {"piece": piece_record(opened), "may": bool(_token(request))}
    title = opened.interpretation.score.title
    if name == "read":
        record = await worked(request, reading_record, opened, {})
        return HTMLResponse(rooms.reading(title, record, data, _token(request)), background=warmed)
    if name == "practise":
        data["bars"] = bars_record(opened.interpretation)
    if name == "ear":
        data["kinds"] = kinds_record()
    return HTMLResponse(rooms.room(name, title, data, _token(request)), background=warmed)


async def _first(request: Request) -> Response:
    return RedirectResponse(f"/piece/{request.path_params['piece']}/read")


async def _web(request: Request) -> Response:
    name = request.path_params["name"]
    data = rooms.web_file(name)
    if data is None:
        return nothing()
    return Response(data, media_type=rooms.KINDS[name.rpartition(".")[2]])


ROUTES = [
    get("/", _shelf), get("/piece/{piece}", _first), get("/piece/{piece}/{room}", _room), get("/web/{name}", _web)
]  # fmt: skip
