"""Which notation a file is in: by its first bytes, and by its name only where they leave it open."""

from __future__ import annotations

from pathlib import Path

from appui.abc.score import is_abc
from appui.mei.humdrum import is_humdrum
from appui.mei.score import is_mei

__all__ = ["SUFFIXES", "notation_of"]

#  suffix -> notation; `.xml` may be MusicXML or MEI
_BY_NAME = {".abc": "abc", ".krn": "humdrum", ".kern": "humdrum", ".hum": "humdrum", ".mei": "mei"}
SUFFIXES = (".musicxml", ".xml", ".mxl", *_BY_NAME)


def notation_of(path: Path, data: bytes) -> str:
    """``musicxml``, ``mei``, ``abc`` or ``humdrum``; what is none of them is ``musicxml``, whose reader says so.

    A name decides only between texts: XML, archives, pictures and sound are told by their first bytes.
    """
    start = data.removeprefix(b"\xef\xbb\xbf").lstrip()
    if start.startswith((b"<", b"\xff\xfe", b"\xfe\xff")) or b"\x00" in data[:4]:
        return "mei" if is_mei(data) else "musicxml"
    if is_abc(data):
        return "abc"
    if is_humdrum(data):
        return "humdrum"
    named = _BY_NAME.get(path.suffix.lower(), "musicxml")
    return named if named in ("abc", "humdrum") and _is_text(data) else "musicxml"


def _is_text(data: bytes) -> bool:
    """Whether the first bytes are letters and signs: no picture, sound or archive begins so."""
    start = data[:200].removeprefix(b"\xef\xbb\xbf")
    plain = all(byte >= 0x20 or byte in b"\t\n\r\f" for byte in start)
    return plain and start[:1].isascii() and not start.startswith((b"%PDF", b"PK"))
