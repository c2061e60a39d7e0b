"""The door to all notations: a score file into a `Score`, and into a MusicXML tree to print and engrave.

What was read is kept in the cache by what is in the file, its name and the code that read it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from appui.cache import code_key, fetch, folder, keep, key_of
from appui.errors import ScoreError
from appui.musicxml.read.score import score_in
from appui.musicxml.read.source import Source, name_of, parse_text, read_bytes, unpacked
from appui.notations.kinds import notation_of
from appui.score.model import Score

__all__ = ["load", "read_score"]

_ROOMS = ("score", "musicxml/read", "mei", "abc", "notations", "harmony")
#  XML costs twenty times its size in memory, text of these far less
MAX_TYPED_BYTES = 50_000_000


def read_score(path: Path | str) -> Score:
    """Read a score file in any notation; raises `ScoreError` naming file, place, cause and remedy."""
    path = Path(path)
    data, name = read_bytes(path), name_of(path)
    key = key_of([code_key(*_ROOMS), name.encode(), path.suffix.encode(), data]) if folder() else ""
    if key:
        from appui.score.shelf import restored

        kept = restored(fetch("scores", key))
        if kept is not None:
            return kept
    score = _READERS[notation_of(path, data)](data, name)
    if key:
        from appui.score.shelf import stored

        keep("scores", key, stored(score))
    return score


def load(path: Path, *, keep: bool = False, score: Score | None = None) -> Source:
    """The MusicXML tree of a score file in any notation; raises `ScoreError` as reading it does.

    A MusicXML file's own tree, with `keep` its comments too; of another notation a new one, whose notes stand in the
    order of their numbers in the score. `score` is what has been read in the file, where it has been.
    """
    data, name = read_bytes(path), name_of(path)
    if notation_of(path, data) == "musicxml":
        return parse_text(unpacked(data, name), name, keep=keep)
    from appui.musicxml.write.score import score_tree

    score = score or read_score(path)
    return Source(score_tree(score), score.sha256, score.file)


def _mei(data: bytes, name: str) -> Score:
    from appui.mei.score import mei_root, score_of_mei

    return score_of_mei(mei_root(data, name), name, hashlib.sha256(data).hexdigest())


def _abc(data: bytes, name: str) -> Score:
    from appui.abc.score import score_of_abc

    return score_of_abc(_text(data, name), name, hashlib.sha256(data).hexdigest())


def _humdrum(data: bytes, name: str) -> Score:
    from appui.mei.humdrum import score_of_humdrum

    return score_of_humdrum(_text(data, name), name, hashlib.sha256(data).hexdigest())


def _text(data: bytes, name: str) -> str:
    """What is typed in a file: UTF-8, else Latin-1 as in older files."""
    if len(data) > MAX_TYPED_BYTES:
        raise ScoreError(name, f"is larger than {MAX_TYPED_BYTES // 1_000_000} MB", "save the one piece you want")
    if b"\x00" in data:
        raise ScoreError(name, "holds bytes that no text has", "save it as plain text (UTF-8)")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


_READERS: dict[str, Callable[[bytes, str], Score]] = {
    "musicxml": score_in,
    "mei": _mei,
    "abc": _abc,
    "humdrum": _humdrum,
}
