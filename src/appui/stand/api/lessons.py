"""Teacher and pupil: remarks, and the answers that come back."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from appui.page.letter import Remarks, read_remarks, write_remarks
from appui.stand.api.answers import MOST_JSON, body_of, get, json_of, piece_of, post, stand_of, texts, worked
from appui.stand.letters import compared

__all__ = ["ROUTES"]


async def _remarks(request: Request) -> Response:
    def work() -> dict[str, Any]:
        found = read_remarks(stand_of(request).open(piece_of(request)).entry.remarks)
        return {"remarks": dict(found.remarks), "decide": list(found.decide)}

    return JSONResponse(await worked(request, work))


async def _keep(request: Request) -> Response:
    said = await json_of(request)

    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        decide = [str(each) for each in list(said.get("decide") or ())[:2000]]
        places = {sign.place for sign in opened.ornaments()}
        table = {place: words for place, words in texts(said.get("remarks")).items() if place in places}
        found = Remarks(table, tuple(each for each in decide if each in places))
        write_remarks(opened.entry.remarks, opened.interpretation.score.sha256, found)
        return {"remarks": dict(found.remarks), "decide": list(found.decide)}

    return JSONResponse(await worked(request, work))


async def _answers(request: Request) -> Response:
    text = (await body_of(request, MOST_JSON)).decode("utf-8", "replace")
    return JSONResponse(await worked(request, lambda: compared(stand_of(request).open(piece_of(request)), text)))


_AT = "/api/pieces/{piece}"
ROUTES = [get(f"{_AT}/remarks", _remarks), post(f"{_AT}/remarks", _keep), post(f"{_AT}/answers", _answers)]
