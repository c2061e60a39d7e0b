"""A stand with the demo on its shelf, and somebody who asks it."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from appui.stand.app import application
from appui.stand.guard import TOKEN_HEADER, Door
from appui.stand.holding import Stand
from appui.stand.shelf import Shelf

DEMO = Path(__file__).parents[2] / "src" / "appui" / "demo" / "ferry.musicxml"
HOST = "127.0.0.1:8000"


class Client:
    """Asks the stand as its own pages do."""

    def __init__(self, web: TestClient, door: Door, who: str) -> None:
        self.web, self.token = web, door.token(who)
        web.cookies.set(door.cookie, door.owner if who == "owner" else door.guests)

    def get(self, path: str, **more: Any) -> Any:
        """Look at something."""
        return self.web.get(path, **more)

    def post(self, path: str, said: object = None, **more: Any) -> Any:
        """Change something, with the token of the pages."""
        headers = {TOKEN_HEADER: self.token} | more.pop("headers", {})
        return (
            self.web.post(path, json=said, headers=headers, **more)
            if said is not None
            else self.web.post(path, headers=headers, **more)
        )


@pytest.fixture
def scores(tmp_path: Path) -> Path:
    """A folder with the demo's score in it."""
    folder = tmp_path / "scores"
    folder.mkdir()
    shutil.copy(DEMO, folder)
    return folder


@pytest.fixture
def shelf(tmp_path: Path, scores: Path) -> Shelf:
    """A shelf with that folder, and one of its own."""
    return Shelf(tmp_path / "own", [scores])


@pytest.fixture
def stand(shelf: Shelf) -> Iterator[Stand]:
    """The stand with this shelf."""
    made = Stand(shelf)
    yield made
    made.close()


@pytest.fixture
def door() -> Door:
    """A door that lets guests in, who may only look."""
    return Door(8000, frozenset({HOST}), guests="guests")


@pytest.fixture
def web(stand: Stand, door: Door) -> TestClient:
    """A browser that has not been let in."""
    return TestClient(application(stand, door), base_url=f"http://{HOST}", follow_redirects=False)


@pytest.fixture
def owner(web: TestClient, door: Door) -> Client:
    """The player."""
    return Client(web, door, "owner")


@pytest.fixture
def piece(owner: Client) -> str:
    """The number of the demo on the shelf."""
    return str(owner.get("/api/shelf").json()["pieces"][0]["id"])
