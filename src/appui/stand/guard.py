"""Who may ask the stand for what: nobody but the player, and those let in by `--share`.

Whoever opens the printed address gets a cookie (HttpOnly, SameSite=Strict, named after the port); without it nothing is
told. The `Host` must be an address the stand answers to, which keeps other names for this machine out (DNS rebinding);
`Origin` and `Sec-Fetch-Site`, where a browser sends them, must be the stand's own. What changes anything needs a token
besides, which stands in the stand's own pages and which no other page can read or send.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from hashlib import sha256
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qsl, urlencode

__all__ = ["Door", "Guard", "HEADERS", "TOKEN_HEADER"]

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

TOKEN_HEADER = "appui-token"  # noqa: S105 - the header's name
#  what the stand's pages may do: nothing from elsewhere, nothing inside another page, no script but its own files
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "connect-src 'self'; img-src 'self' data: blob:; font-src data:; media-src 'self' blob:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(self), screen-wake-lock=(self)",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Door:
    """Whom the stand lets in. `hosts` are the addresses it answers to, as ``name:port``.

    `guests` is the secret of those it is shared with, empty where it is not; they may change things where
    `guests_write`.
    """

    port: int
    hosts: frozenset[str]
    owner: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    guests: str = ""
    guests_write: bool = False

    @property
    def cookie(self) -> str:
        """The cookie's name; two stands on one machine have one each."""
        return f"appui-stand-{self.port}"

    def who(self, secret: str) -> str:
        """``owner``, ``guest``, or empty for a secret that opens nothing."""
        if hmac.compare_digest(secret.encode(), self.owner.encode()):
            return "owner"
        if self.guests and hmac.compare_digest(secret.encode(), self.guests.encode()):
            return "guest"
        return ""

    def token(self, who: str) -> str:
        """What the pages of somebody send with a change."""
        secret = self.owner if who == "owner" else self.guests
        return hmac.new(secret.encode(), b"token", sha256).hexdigest()

    def may_change(self, who: str) -> bool:
        """Whether somebody may change anything."""
        return who == "owner" or (who == "guest" and self.guests_write)


class Guard:
    """Stands before the application and answers what may not pass."""

    def __init__(self, app: App, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "http" and not await self._let_in(scope, send):
            headers = {key.decode("latin-1").lower(): value.decode("latin-1") for key, value in scope["headers"]}
            who = self.door.who(self._secret(headers))
            if refused := self._refused(scope["method"], headers, who):
                await _answer(send, *refused)
            else:
                scope["appui_who"] = who
                await self.app(scope, receive, _with_headers(send))

    def _refused(self, method: str, headers: dict[str, str], who: str) -> tuple[int, str] | None:
        """Why a request may not pass: the status and a sentence."""
        if headers.get("host", "") not in self.door.hosts:
            return 421, "This is no address of the stand. Open the one that was printed when it started."
        if not self._same_site(headers):
            return 403, "Another page may not ask the stand for anything."
        if not who:
            return 403, "Open the address that was printed when the stand was started."
        return self._may_not_change(headers, who) if method not in ("GET", "HEAD") else None

    def _may_not_change(self, headers: dict[str, str], who: str) -> tuple[int, str] | None:
        if not self.door.may_change(who):
            return 403, "You may look and listen here. Only who started the stand can change anything."
        if not hmac.compare_digest(headers.get(TOKEN_HEADER, "").encode(), self.door.token(who).encode()):
            return 403, "Load the page again: it is from an earlier start of the stand."
        return None

    def _same_site(self, headers: dict[str, str]) -> bool:
        origin = headers.get("origin")
        if origin is not None and origin not in {f"http://{host}" for host in self.door.hosts}:
            return False
        return headers.get("sec-fetch-site", "none") in ("same-origin", "none") or (
            # a link in a message may lead here: it shows the page, it changes nothing
            headers.get("sec-fetch-mode") == "navigate" and "origin" not in headers
        )

    async def _let_in(self, scope: Scope, send: Send) -> bool:
        """Take the secret of the address into a cookie, and go on without it in the address."""
        headers = {key.lower(): value.decode("latin-1") for key, value in scope["headers"]}
        asked = dict(parse_qsl(scope["query_string"].decode("latin-1")))
        key = asked.pop("key", None)
        if key is None or scope["method"] != "GET" or not self.door.who(key):
            return False
        if headers.get(b"host", "") not in self.door.hosts:
            return False
        place = scope["path"] + (f"?{urlencode(asked)}" if asked else "")
        cookie = f"{self.door.cookie}={key}; HttpOnly; SameSite=Strict; Path=/"
        await send(
            {"type": "http.response.start", "status": 303, "headers": [
                (b"location", place.encode()), (b"set-cookie", cookie.encode()), (b"cache-control", b"no-store"),
                (b"referrer-policy", b"no-referrer")]}
        )  # fmt: skip
        await send({"type": "http.response.body", "body": b""})
        return True

    def _secret(self, headers: dict[str, str]) -> str:
        try:
            found = SimpleCookie(headers.get("cookie", "")).get(self.door.cookie)
        except CookieError:
            return ""
        return found.value if found is not None else ""


def _with_headers(send: Send) -> Send:
    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            there = {key.lower() for key, _ in message["headers"]}
            more = [(k.encode(), v.encode()) for k, v in HEADERS.items() if k.encode() not in there]
            message["headers"] = [*message["headers"], *more]
        await send(message)

    return sent


async def _answer(send: Send, status: int, words: str) -> None:
    body = f"{words}\n".encode()
    plain = (b"content-type", b"text/plain; charset=utf-8")
    await _with_headers(send)({"type": "http.response.start", "status": status, "headers": [plain]})
    await send({"type": "http.response.body", "body": body})
