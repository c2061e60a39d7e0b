"""The stand as an application: which address gives what.

Documents are at ``/`` (the shelf) and ``/piece/ID/ROOM``, everything else is under ``/api``. What takes processor time
runs in threads, a few at a time, so that the stand goes on answering; what cannot be done is told as JSON with the
words of the error, and nothing that goes wrong with one piece touches another.
"""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from appui.stand.api import documents, ears, embellishments, lessons, pieces, works
from appui.stand.guard import Door, Guard
from appui.stand.holding import Stand

__all__ = ["application"]

_LOG = logging.getLogger(__name__)


def application(stand: Stand, door: Door) -> Guard:
    """The application behind its door."""

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        stand.close()

    rooms = (documents, pieces, embellishments, lessons, ears, works)
    routes = [route for each in rooms for route in each.ROUTES]
    app = Starlette(routes=routes, lifespan=lifespan, exception_handlers={Exception: _failed, 404: _nothing})
    app.state.stand, app.state.door = stand, door
    return Guard(app, door)


async def _failed(request: Request, error: Exception) -> Response:
    _LOG.error("%s", request.url.path, exc_info=error)
    return JSONResponse({"error": "something went wrong in the stand: please tell it to its makers"}, 500)


async def _nothing(request: Request, error: Exception) -> Response:
    return documents.nothing()
