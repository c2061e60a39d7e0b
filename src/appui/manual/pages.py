"""The manual: Markdown pages beside this module, one for each thing people want to do, found by topic.

A topic is a page's name, a command's, or a word from `_SEE`. Nothing here prints; `appui manual` does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from appui.errors import UsageError

__all__ = ["PAGES", "SEE", "Page", "find", "for_terminal", "pages"]

#  in the order in which people come to need them
PAGES = (
    "start",
    "stand",
    "survey",
    "decide",
    "playing",
    "practise",
    "print",
    "page",
    "takes",
    "ear",
    "embellish",
    "styles",
    "plan",
    "scores",
    "python",
    "accuracy",
    "speed",
    "limits",
    "glossary",
)
#  other words under which a page may be looked for: commands, and what people call the thing
SEE = {
    "abc": "scores",
    "accompaniment": "scores",
    "accompany": "scores",
    "api": "python",
    "batch": "python",
    "browser": "stand",
    "cadenza": "embellish",
    "click": "practise",
    "compare": "decide",
    "completion": "start",
    "demo": "start",
    "drill": "ear",
    "figured bass": "scores",
    "hear": "decide",
    "hearing": "practise",
    "how fast": "speed",
    "how right": "accuracy",
    "humdrum": "scores",
    "levels": "playing",
    "install": "start",
    "listen": "takes",
    "mei": "scores",
    "manner": "embellish",
    "microphone": "takes",
    "movement": "scores",
    "musicxml": "scores",
    "new": "scores",
    "notate": "print",
    "ornaments": "styles",
    "part": "print",
    "play": "practise",
    "practice": "practise",
    "progress": "ear",
    "pupil": "stand",
    "record": "takes",
    "recording": "takes",
    "render": "decide",
    "right": "accuracy",
    "security": "limits",
    "shape": "playing",
    "share": "stand",
    "shelf": "stand",
    "sources": "styles",
    "strokes": "styles",
    "take": "takes",
    "teacher": "stand",
    "time": "playing",
    "tuning": "practise",
    "weight": "decide",
    "words": "glossary",
}
_LINK = re.compile(r"\[([^\]]+)\]\(([a-z]+)\.md\)")
_LINK_IN_BRACKETS = re.compile(rf"\({_LINK.pattern}\)")
_PICTURE = re.compile(r"!\[([^\]]+)\]\(([\w.]+)\)")


@dataclass(frozen=True, slots=True)
class Page:
    """One page: the name it is asked for by, its title, what it is about in a sentence, and its Markdown text."""

    name: str
    title: str
    about: str
    text: str


def pages() -> tuple[Page, ...]:
    """All pages, in the order in which people come to need them."""
    return tuple(_read(name) for name in PAGES)


def find(topic: str) -> Page:
    """The page about a topic.

    Raises `UsageError` naming the nearest topics where there is no such page.

    >>> find("tuning").name
    'practise'
    >>> find("glosary")
    Traceback (most recent call last):
    appui.errors.UsageError: the manual has no page about 'glosary'; nearest: glossary. `appui manual` lists all pages
    """
    wanted = topic.strip().lower()
    if wanted in PAGES:
        return _read(wanted)
    if wanted in SEE:
        return _read(SEE[wanted])
    from difflib import get_close_matches

    near = get_close_matches(wanted, [*PAGES, *SEE], n=3, cutoff=0.6)
    nearest = f"; nearest: {', '.join(near)}" if near else ""
    raise UsageError(f"the manual has no page about {topic!r}{nearest}. `appui manual` lists all pages")


def for_terminal(page: Page) -> str:
    """A page's Markdown with what only a browser can follow put into words.

    >>> for_terminal(Page("a", "A", "", "See [the plan](plan.md)."))
    'See the plan (`appui manual plan`).'
    """
    without_pictures = _PICTURE.sub(lambda found: f"(Picture: {found[1]}: {_beside(found[2])})", page.text)
    in_brackets = _LINK_IN_BRACKETS.sub(r"(`appui manual \2`)", without_pictures)
    return _LINK.sub(r"\1 (`appui manual \2`)", in_brackets)


def _beside(name: str) -> Path:
    return Path(__file__).with_name(name)


def _read(name: str) -> Page:
    """A page from its file: a title line, a sentence that says what it is about, and the rest."""
    text = _beside(f"{name}.md").read_text(encoding="utf-8")
    title, about, _ = text.split("\n\n", 2)
    return Page(name, title.removeprefix("# "), " ".join(about.split()), text)
