"""The shelf: the pieces one has, each a score file with what the player has decided beside it.

A piece is a file: named when the stand was started, found in a folder named then, or dropped in, which copies it into
the shelf's own folder. Beside a score ``concerto.musicxml`` lie ``concerto-plan.toml``, the plan every other command
reads, and ``concerto-remarks.json``. The browser knows a piece by a number made from its path; it never says a path.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from appui.errors import InputError, PlaceError, UsageError
from appui.notations.kinds import SUFFIXES
from appui.notations.read import read_score
from appui.sound.files import make_folder, write_whole

__all__ = ["LARGEST_BYTES", "Entry", "Shelf", "default_folder"]

#  of a score that is dropped in; an opera in MusicXML is half of it
LARGEST_BYTES = 100_000_000
_MOST = 500
_NAME = 120
_ODD = re.compile(r"[\x00-\x1f\x7f/\\:*?\"<>|]+")


def default_folder() -> Path:
    """Where the shelf's own scores lie: in the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("appui", appauthor=False) / "shelf"


@dataclass(frozen=True, slots=True)
class Entry:
    """One piece on the shelf; `own` where it lies in the shelf's own folder."""

    id: str
    path: Path
    own: bool

    @property
    def plan(self) -> Path:
        """The player's plan for it, there or not."""
        return self.path.with_name(f"{self.path.stem}-plan.toml")

    @property
    def remarks(self) -> Path:
        """Remarks at its ornaments, there or not."""
        return self.path.with_name(f"{self.path.stem}-remarks.json")


class Shelf:
    """The pieces there are. `given` are score files and folders of them; `folder` is the shelf's own."""

    def __init__(self, folder: Path, given: Sequence[Path] = ()) -> None:
        self.folder, self.given = folder, tuple(given)
        self._lock = Lock()
        for path in self.given:
            if not path.exists():
                raise InputError(path, "is not there", "check the name")
            if path.is_file() and path.suffix.lower() not in SUFFIXES:
                raise UsageError(f"{path} ends in {path.suffix or 'no suffix'}; scores end in {', '.join(SUFFIXES)}")

    def entries(self) -> list[Entry]:
        """The pieces now, those named first, then those of folders by name."""
        found: dict[str, Entry] = {}
        for path, own in self._paths():
            entry = Entry(_id(path), path, own)
            found.setdefault(entry.id, entry)
            if len(found) >= _MOST:
                break
        return list(found.values())

    def _paths(self) -> Iterator[tuple[Path, bool]]:
        for path in self.given:
            yield from ((each, False) for each in (_scores_in(path) if path.is_dir() else [path]))
        yield from ((each, True) for each in _scores_in(self.folder))

    def entry(self, piece: str) -> Entry:
        """The piece of a number; raises `PlaceError` where it is gone."""
        for entry in self.entries():
            if entry.id == piece:
                return entry
        raise PlaceError("shelf", "this piece is not there any more", "go back to the shelf")

    def add(self, name: str, data: bytes) -> Entry:
        """Take a score into the shelf's own folder; the same score again is the one that is there.

        What cannot be read is not kept. Raises `UsageError` for a name that is none of a score, `ScoreError` for a file
        that cannot be read, `OutputError` where it cannot be kept.
        """
        clean = _clean(name)
        with self._lock:
            make_folder(self.folder)
            for path in _scores_in(self.folder):
                if path.stat().st_size == len(data) and path.read_bytes() == data:
                    return Entry(_id(path), path, own=True)
            path = _free(self.folder, clean)
            waiting = self.folder / f".reading-{os.getpid()}{path.suffix}"
            try:
                write_whole(waiting, data)
                _check(waiting, clean)
                waiting.replace(path)
            finally:
                waiting.unlink(missing_ok=True)
        return Entry(_id(path), path, own=True)

    def put_away(self, piece: str) -> Path:
        """Take one of the shelf's own scores off it, with what lies beside it, into the folder ``put away``.

        Nothing is deleted. Returns the folder; raises `UsageError` for a score that lies elsewhere.
        """
        entry = self.entry(piece)
        if not entry.own:
            raise UsageError(f"{entry.path.name} lies in a folder of yours: move it there yourself")
        away = self.folder / "put away"
        with self._lock:
            make_folder(away)
            target = _free(away, entry.path.name)
            for old in (entry.plan, entry.remarks, entry.path):
                if old.exists():
                    old.replace(target.with_name(old.name.replace(entry.path.stem, target.stem, 1)))
        return away

    def last(self) -> dict[str, Any]:
        """Where one was last, by piece: the place of an ornament and when."""
        try:
            said = json.loads((self.folder / "last.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return said if isinstance(said, dict) else {}

    def remember(self, piece: str, place: str, moment: str) -> None:
        """Keep where one is; raises `OutputError`."""
        with self._lock:
            make_folder(self.folder)
            here = {entry.id for entry in self.entries()}
            kept = {key: said for key, said in self.last().items() if key in here}
            kept[piece] = {"place": place, "moment": moment}
            write_whole(self.folder / "last.json", json.dumps(kept, ensure_ascii=False).encode(), flushed=False)


def _id(path: Path) -> str:
    return hashlib.sha256(os.fsencode(os.path.realpath(path))).hexdigest()[:12]


def _scores_in(folder: Path) -> list[Path]:
    try:
        return sorted(
            path
            for path in folder.iterdir()
            if path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and path.is_file()
        )
    except OSError:
        return []


def _clean(name: str) -> str:
    """A file name of what the browser calls a file: its last part, without letters no system takes."""
    last = _ODD.sub(" ", re.split(r"[/\\]", name)[-1]).strip(" .")
    suffix = Path(last).suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError(
            f"{last or 'this file'} ends in {suffix or 'no suffix'}: the stand takes scores ({', '.join(SUFFIXES)}). "
            "Export MusicXML from the program it was made with, or type the solo and a chart of chords: "
            "`appui manual scores`"
        )
    return f"{last[: -len(suffix)][:_NAME].strip() or 'score'}{suffix}"


def _free(folder: Path, name: str) -> Path:
    """A path of that name, or with a number, where nothing of a piece lies yet."""
    stem, suffix = Path(name).stem, Path(name).suffix
    for number in range(1, 10_000):
        entry = Entry("", folder / f"{stem}{f' {number}' if number > 1 else ''}{suffix}", own=True)
        if not (entry.path.exists() or entry.plan.exists() or entry.remarks.exists()):
            return entry.path
    raise UsageError(f"there are too many scores called {name}: rename it")


def _check(path: Path, name: str) -> None:
    """Read a score once; raises its error under the name the player knows it by."""
    try:
        read_score(path)
    except InputError as error:
        raise type(error)(name, error.problem, error.remedy, place=error.place) from None
