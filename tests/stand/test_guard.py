"""Who is let in, and who may change anything."""

from starlette.testclient import TestClient

from appui.stand.app import application
from appui.stand.guard import HEADERS, Door
from appui.stand.holding import Stand
from tests.stand.conftest import HOST, Client


def test_without_the_address_nothing_is_told(web: TestClient) -> None:
    """Neither documents nor data, to whoever has no cookie."""
    for path in ("/", "/api/shelf", "/web/make.js", "/nothing"):
        answer = web.get(path)
        assert 403 == answer.status_code
        assert "Open the address" in answer.text


def test_the_address_lets_in_and_loses_its_secret(web: TestClient, door: Door) -> None:
    """The secret goes into a cookie that scripts and other pages do not get, and out of the address."""
    answer = web.get(f"/?key={door.owner}&more=1")
    assert (303, "/?more=1") == (answer.status_code, answer.headers["location"])
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert 200 == web.get("/").status_code


def test_a_wrong_secret_opens_nothing(web: TestClient) -> None:
    """A guess is as good as none."""
    assert 403 == web.get("/?key=guess").status_code


def test_another_name_for_this_machine_is_refused(owner: Client, door: Door) -> None:
    """A page of elsewhere whose name leads here gets nothing, whatever it knows (DNS rebinding)."""
    assert 421 == owner.get("/api/shelf", headers={"host": "evil.example:8000"}).status_code
    assert 421 == owner.get(f"/?key={door.owner}", headers={"host": "evil.example:8000"}).status_code


def test_another_page_may_not_ask(owner: Client, piece: str) -> None:
    """By its origin, or by what the browser says of it."""
    said = {"place": "oboe.2.1", "words": "short"}
    path = f"/api/pieces/{piece}/decide"
    assert 403 == owner.post(path, said, headers={"origin": "http://evil.example"}).status_code
    assert 403 == owner.get("/api/shelf", headers={"sec-fetch-site": "cross-site"}).status_code
    assert 200 == owner.post(path, said, headers={"origin": f"http://{HOST}"}).status_code


def test_a_change_needs_the_token_of_the_page(owner: Client, piece: str) -> None:
    """The cookie alone changes nothing."""
    path = f"/api/pieces/{piece}/decide"
    answer = owner.web.post(path, json={"place": "oboe.2.1", "words": "short"})
    assert 403 == answer.status_code
    assert "Load the page again" in answer.text


def test_guests_look_and_change_nothing(web: TestClient, door: Door, owner: Client, piece: str) -> None:
    """Those it is shared with see and hear; their pages have no token."""
    guest = Client(web, door, "guest")
    assert 'content=""' in guest.get("/").text
    assert 200 == guest.get(f"/api/pieces/{piece}/ornament.wav?place=oboe.2.1").status_code
    refused = guest.post(f"/api/pieces/{piece}/decide", {"place": "oboe.2.1", "words": "short"})
    assert (403, True) == (refused.status_code, "may look and listen" in refused.text)


def test_guests_may_write_where_that_was_asked_for(stand: Stand) -> None:
    """With `--share write`."""
    door = Door(8000, frozenset({HOST}), guests="guests", guests_write=True)
    guest = Client(TestClient(application(stand, door), base_url=f"http://{HOST}"), door, "guest")
    piece = guest.get("/api/shelf").json()["pieces"][0]["id"]
    assert 200 == guest.post(f"/api/pieces/{piece}/decide", {"place": "oboe.2.1", "words": "short"}).status_code


def test_every_answer_forbids_what_the_pages_do_not_need(owner: Client) -> None:
    """No script but the stand's own files, no frame around it, nothing from elsewhere."""
    for path in ("/", "/api/shelf", "/nothing"):
        headers = owner.get(path).headers
        assert {name: headers[name] for name in HEADERS} == HEADERS
    assert "script-src 'self';" in HEADERS["content-security-policy"]


def test_files_are_only_those_of_the_pages(owner: Client) -> None:
    """No path leads out of the folder of the pages."""
    for name in ("../app.py", "..%2fapp.py", "%2e%2e/app.py", "app.py", "page.html", "frame.html"):
        assert 404 == owner.get(f"/web/{name}").status_code
    assert 200 == owner.get("/web/engine.js").status_code


def test_the_token_is_not_the_secret(door: Door) -> None:
    """Who reads a page's token cannot make a cookie of it."""
    assert door.owner not in door.token("owner")
    assert door.token("owner") != door.token("guest")
