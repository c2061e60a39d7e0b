"""Work that takes long: begun, looked at, stopped, its files."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from appui.errors import PlaceError, UsageError
from appui.stand.api.answers import get, json_of, piece_of, post, stand_of, worked
from appui.stand.asked import practice_arguments, text_in
from appui.stand.desk import Opened

__all__ = ["ROUTES"]


async def _begin(request: Request) -> Response:
    said = await json_of(request)

    def work() -> dict[str, Any]:
        opened = stand_of(request).open(piece_of(request))
        return stand_of(request).jobs.start(*_work_asked(opened, said)).record()

    return JSONResponse(await worked(request, work))


async def _works(request: Request) -> Response:
    return JSONResponse({"work": stand_of(request).jobs.records()})


async def _stop(request: Request) -> Response:
    return JSONResponse(stand_of(request).jobs.stop(request.path_params["number"]).record())


async def _made(request: Request) -> Response:
    job = stand_of(request).jobs.job(request.path_params["number"])
    if job.state != "done" or not job.output.is_file():
        raise PlaceError("stand", "this file is not there", "make it again")
    return FileResponse(job.output, filename=job.output.name)


def _work_asked(opened: Opened, said: Mapping[str, Any]) -> tuple[str, str, list[str]]:
    """What is to be made: words, the file's name, and the words of the command."""
    entry = opened.entry
    score, stem = str(entry.path), entry.path.stem
    plan = str(entry.plan) if entry.plan.exists() else None
    planned = [f"--plan={plan}"] if plan else []
    kind = text_in(said, "kind")
    if kind == "track":
        words, name, arguments = practice_arguments(said, score, plan)
        return words, f"{stem} {name}", arguments
    if kind == "part":
        return "the part, as PDF", f"{stem} part.pdf", ["notate", score, "{out}", "--part", *planned]
    if kind == "page":
        more = [f"--bars={text_in(said, 'bars')}"] if text_in(said, "bars") else []
        if said.get("letter") and entry.remarks.exists():
            more += [f"--remarks={entry.remarks}"] + (["--no-answers"] if said.get("hide") else [])
        return "a page to send", f"{stem} page.html", ["page", score, "{out}", *planned, *more]
    raise UsageError("there is nothing of this kind to be made")


ROUTES = [
    post("/api/pieces/{piece}/work", _begin), get("/api/work", _works), post("/api/work/{number:int}/stop", _stop),
    get("/api/work/{number:int}/file", _made),
]  # fmt: skip
