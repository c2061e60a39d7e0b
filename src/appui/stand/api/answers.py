"""How a request is answered: in a thread, within limits, errors of ours as words."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from dataclasses import asdict
from typing import Any, TypeVar

from anyio import to_thread
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from appui.errors import AppuiError, PlaceError, UsageError
from appui.stand.heard import Sound
from appui.stand.holding import Stand

__all__ = ["body_of", "get", "json_of", "piece_of", "post", "sounded", "stand_of", "texts", "told", "worked"]

_T = TypeVar("_T")
Answer = Callable[[Request], Awaitable[Response]]

MOST_JSON = 6_000_000
#  how many presses may wait for sound; whoever presses quicker is told so
_WAITING = 24


def stand_of(request: Request) -> Stand:
    """The stand that is asked."""
    stand: Stand = request.app.state.stand
    return stand


def piece_of(request: Request) -> str:
    """The number of the piece that is asked for."""
    return str(request.path_params["piece"])


def get(path: str, answer: Answer) -> Route:
    """An address that is only looked at."""
    return Route(path, told(answer), methods=["GET"])


def post(path: str, answer: Answer) -> Route:
    """An address that changes something."""
    return Route(path, told(answer), methods=["POST"])


def told(work: Answer) -> Answer:
    """The same, errors of ours as words."""

    async def answer(request: Request) -> Response:
        try:
            return await work(request)
        except PlaceError as error:
            return JSONResponse({"error": str(error)}, 404)
        except AppuiError as error:
            return JSONResponse({"error": str(error)}, 400)
        except MemoryError:
            return JSONResponse({"error": "this needs more memory than there is: take fewer bars"}, 400)
        except ClientDisconnect:
            return Response(status_code=204)

    return answer


async def body_of(request: Request, most: int) -> bytes:
    """The body of a request; raises `UsageError` where it is longer than it may be."""
    got = bytearray()
    async for piece in request.stream():
        got += piece
        if len(got) > most:
            raise UsageError(f"this is larger than {most // 1_000_000} MB, more than the stand takes")
    return bytes(got)


async def json_of(request: Request) -> dict[str, Any]:
    """The table that a request sends; raises `UsageError` for anything else."""
    try:
        said = json.loads(await body_of(request, MOST_JSON) or b"{}")
    except (ValueError, RecursionError):
        raise UsageError("the request is no JSON") from None
    if not isinstance(said, dict):
        raise UsageError("the request is no table")
    return said


def texts(said: object) -> dict[str, str]:
    """A table of places and words; raises `UsageError`."""
    if not isinstance(said, dict) or not all(isinstance(word, str) for word in (*said.keys(), *said.values())):
        raise UsageError("these have to be words by place")
    return said


async def worked(request: Request, work: Callable[..., _T], *said: Any) -> _T:
    """Do something in a thread, a few at a time."""
    return await to_thread.run_sync(lambda: work(*said), limiter=stand_of(request).working)


async def sounded(request: Request, work: Callable[[], Sound]) -> Response:
    """Make sound in a thread; raises `UsageError` where more is asked for than can be made."""
    stand = stand_of(request)
    if stand.waiting >= _WAITING:
        raise UsageError("too many presses at once: press again")
    stand.waiting += 1
    try:
        made = await to_thread.run_sync(work, limiter=stand.sounding)
    finally:
        stand.waiting -= 1
    line = json.dumps(asdict(made.timeline), separators=(",", ":"))
    return Response(made.wav, media_type="audio/wav", headers={"appui-timeline": line})
