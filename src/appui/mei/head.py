"""What the head of an MEI file says of the piece: title, composer, when it was written.

Source: MEI 5.0, module header (memory); files of MEI 3 to 5 keep these in different places, so all of them are tried.
"""

from __future__ import annotations

from collections.abc import Iterator

from appui.mei.definitions import plain_text
from appui.mei.names import Element

__all__ = ["creators_of", "title_of"]

_COMPOSERS = frozenset({"composer", "cmp", "creator", "author"})


def title_of(root: Element) -> str:
    """The title: of the file, else of the first work; empty where neither has one."""
    for path in ("meiHead/fileDesc/titleStmt/title", ".//work/title", ".//work/titleStmt/title"):
        for node in root.iterfind(path):
            if node.get("type") not in ("subtitle", "subordinate") and plain_text(node):
                return plain_text(node)
    return ""


def creators_of(root: Element) -> tuple[tuple[str, str], ...]:
    """Who made it and when, as kind and text: ``composer``, ``lyricist`` …, and ``date`` for when it was written."""
    found = list(_creators(root))
    return tuple(dict.fromkeys((kind, text) for kind, text in found if text))


def _creators(root: Element) -> Iterator[tuple[str, str]]:
    head = root.find("meiHead")
    if head is None:
        return
    for node in head.iter("composer", "lyricist", "arranger", "persName"):
        role = str(node.tag) if node.tag != "persName" else (node.get("role") or "").lower()
        if node.tag == "persName" and role not in _COMPOSERS:
            continue
        yield "composer" if role in _COMPOSERS else role, " ".join(filter(None, (plain_text(node), _life(node))))
    for date in head.iterfind(".//creation/date"):
        yield "date", plain_text(date) or _when(date)


def _life(node: Element) -> str:
    """The years of a person, where the file has them as attributes."""
    years = [node.get(name) or "" for name in ("startdate", "enddate")]
    return f"({'-'.join(year[:4] for year in years)})" if all(years) else ""


def _when(date: Element) -> str:
    return "-".join(
        filter(None, (date.get("isodate"), date.get("startdate"), date.get("enddate"), date.get("notbefore")))
    )
