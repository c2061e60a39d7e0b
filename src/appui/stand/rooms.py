"""The documents of the stand: a frame of HTML around data and scripts, all files of the package."""

from __future__ import annotations

import html
from functools import lru_cache
from importlib.resources import files
from typing import Any

from appui.page.build import json_for_script, score_html
from appui.text import filled

__all__ = ["KINDS", "SCRIPTS", "reading", "room", "web_file"]

#  the files a browser may ask for, and where they lie
_PAGE = (
    "page.css", "make.js", "data.js", "sound.js", "score.js", "spots.js", "table.js", "blind.js", "panel.js",
    "transport.js", "letter.js", "main.js",
)  # fmt: skip
_STAND = (
    "stand.css", "wire.js", "engine.js", "live.js", "decide.js", "read.js", "shelf.js", "music.js", "practise.js",
    "embellish.js", "ear.js", "lesson.js", "rooms.js", "take.js", "recorder.js", "work.js",
)  # fmt: skip
KINDS = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8"}
#  of each room, in order; those of the page come with the page's own data
_WAY, _SOUND = ("make.js", "wire.js", "rooms.js"), "engine.js"
SCRIPTS = {
    "shelf": (*_WAY, "shelf.js"),
    "read": (
        *_WAY, "data.js", "live.js", "sound.js", "score.js", "spots.js", "table.js", "decide.js", "blind.js",
        "panel.js", "transport.js", "letter.js", "main.js", "read.js",
    ),
    "stand": (*_WAY, _SOUND, "music.js"),
    "practise": (*_WAY, _SOUND, "work.js", "practise.js", "take.js"),
    "embellish": (*_WAY, _SOUND, "embellish.js"),
    "ear": (*_WAY, "ear.js"),
    "lesson": (*_WAY, "work.js", "lesson.js"),
}  # fmt: skip


_PLAIN = '<header id="top"></header>\n<main id="main"></main>\n'


@lru_cache
def web_file(name: str) -> bytes | None:
    """A file of the stand's or the page's own; `None` for any other name."""
    if name in _PAGE:
        return (files("appui.page") / "web" / name).read_bytes()
    return (files("appui.stand") / "web" / name).read_bytes() if name in _STAND else None


def room(name: str, title: str, data: dict[str, Any], token: str) -> str:
    """The document of a room; its scripts put everything into ``main``."""
    return _document(name, title, data, token, _PLAIN)


def reading(title: str, record: dict[str, Any], data: dict[str, Any], token: str) -> str:
    """The document of the reading room: the page's own elements, with sound that is made when asked for."""
    parts = {"TITLE": html.escape(title), "RECORD": json_for_script(record), "SCORE": score_html()}
    return _document("read", title, data, token, _filled("read.html", parts))


def _document(name: str, title: str, data: dict[str, Any], token: str, body: str) -> str:
    parts = {
        "TITLE": html.escape(title),
        "ROOM": name,
        "TOKEN": token,
        "BODY": body,
        "DATA": json_for_script(data),
        "SCRIPTS": "\n".join(f'<script src="/web/{each}"></script>' for each in SCRIPTS[name]),
    }
    return _filled("frame.html", parts)


def _filled(frame: str, parts: dict[str, str]) -> str:
    return "".join(filled(_frame(frame), {name: [part] for name, part in parts.items()}))


@lru_cache
def _frame(name: str) -> str:
    return (files("appui.stand") / "web" / name).read_text(encoding="utf-8")
