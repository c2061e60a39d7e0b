"""The player's results: one SQLite file in the user's data folder, one row a trial, written as soon as it is answered.

Safe at any moment: every row is a transaction of its own, in a write-ahead log that is flushed to the disk, and several
programs may write at once (each waits up to ten seconds for the others). Rows are ordered by their number, never by the
clock, which may jump. A row that cannot be written (full disk) waits in memory and is tried again with the next one.

`user_version` holds the version of the tables; a database of a newer version is refused and not touched. Exports hold
rows as JSON; the same row is never taken in twice, since sitting and number name it.
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from appui.errors import StoreError

__all__ = [
    "EXPORT_BYTES",
    "FORMAT",
    "KeptTake",
    "Row",
    "Store",
    "VERSION",
    "default_path",
    "rows_from_json",
    "rows_to_csv",
    "rows_to_json",
]

VERSION = 1
FORMAT = "appui drill results"
#  an export beyond this is none: 200,000 answers
EXPORT_BYTES = 100_000_000
_WAIT_S = 10.0
_TABLES = """
CREATE TABLE trial (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    player TEXT NOT NULL, sitting TEXT NOT NULL, number INTEGER NOT NULL, moment TEXT NOT NULL, kind TEXT NOT NULL,
    level REAL NOT NULL, unit TEXT NOT NULL, answer INTEGER NOT NULL, given INTEGER NOT NULL, down INTEGER NOT NULL,
    origin TEXT NOT NULL, seed TEXT NOT NULL,
    UNIQUE (player, sitting, number)
);
CREATE INDEX trial_of ON trial (player, kind);
"""
#  beside them, made where it is first needed: what was heard in takes, one row each
_TAKES = """CREATE TABLE IF NOT EXISTS take (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    player TEXT NOT NULL, moment TEXT NOT NULL, score TEXT NOT NULL, file TEXT NOT NULL, words TEXT NOT NULL,
    record TEXT NOT NULL
)"""


class Row(NamedTuple):
    """One answered trial.

    `sitting` names the session; `moment` is ISO 8601, UTC; `answer` counts from 0, -1 for a trial whose intervals were
    equal; `given` the player's. `origin` says where the music was from, `seed` makes the trial again.
    """

    player: str
    sitting: str
    number: int
    moment: str
    kind: str
    level: float
    unit: str
    answer: int
    given: int
    down: int
    origin: str = ""
    seed: str = ""

    @property
    def catch(self) -> bool:
        """Whether the intervals were equal, so that no answer was right."""
        return self.answer < 0

    @property
    def right(self) -> bool:
        """Whether the answer was right."""
        return self.answer == self.given


_KEEP_TAKE = "INSERT INTO take (player, moment, score, file, words, record) VALUES (?, ?, ?, ?, ?, ?)"


class KeptTake(NamedTuple):
    """What was heard in one take: whose, when (ISO 8601, UTC), of what, in a sentence, and in full as JSON."""

    player: str
    moment: str
    score: str
    file: str
    words: str
    record: str


_INSERT = f"INSERT OR IGNORE INTO trial ({', '.join(Row._fields)}) VALUES ({', '.join('?' * len(Row._fields))})"  # noqa: S608
_SELECT = f"SELECT {', '.join(Row._fields)} FROM trial"  # noqa: S608
#  the checks an imported row must pass, by type
_TYPES: Mapping[str, tuple[type, ...]] = dict.fromkeys(Row._fields, (str,)) | {
    "number": (int,),
    "level": (int, float),
    "answer": (int,),
    "given": (int,),
    "down": (int,),
}
_LONGEST = 1000


def default_path() -> Path:
    """Where results are kept: in the user's data folder of this system."""
    from platformdirs import user_data_path

    return user_data_path("appui", appauthor=False) / "drill.sqlite"


@dataclass
class Store:
    """The results of all players of this computer. Raises `StoreError` naming the file, the cause and what to do."""

    path: Path
    _link: sqlite3.Connection
    waiting: list[Row] = field(default_factory=list)

    @classmethod
    @contextmanager
    def open(cls, path: Path | None = None) -> Iterator[Store]:
        """Open the file, made where there is none."""
        path = path or default_path()
        with _told(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            link = sqlite3.connect(path, timeout=_WAIT_S, isolation_level=None)
        try:
            with _told(path):
                _prepare(link, path)
            yield cls(path, link)
        finally:
            link.close()

    def add(self, row: Row) -> None:
        """Keep a row; where the disk refuses, it waits, and `StoreError` is raised after it is safe in `waiting`."""
        self.waiting.append(row)
        self.take(self.waiting)
        self.waiting.clear()

    def take(self, rows: Iterable[Row]) -> int:
        """Keep rows, all or none; returns how many were new."""
        with _told(self.path):
            before = self._link.total_changes
            self._link.execute("BEGIN IMMEDIATE")
            try:
                self._link.executemany(_INSERT, list(rows))
                self._link.execute("COMMIT")
            except sqlite3.Error:
                if self._link.in_transaction:
                    self._link.execute("ROLLBACK")
                raise
            return self._link.total_changes - before

    def rows(self, player: str | None = None, kind: str | None = None) -> list[Row]:
        """The rows of a player and a kind, of all where none is named, in the order they were kept."""
        wanted = {"player": player, "kind": kind}
        named = {name: value for name, value in wanted.items() if value is not None}
        where = " AND ".join(f"{name} = ?" for name in named)
        with _told(self.path):
            found = self._link.execute(f"{_SELECT}{where and ' WHERE ' + where} ORDER BY id", tuple(named.values()))
            rows = [Row(*each) for each in found]
        # a database may hold anything in any column
        return [_row(row._asdict(), f"row {n}", self.path, _DAMAGED) for n, row in enumerate(rows, 1)]

    def keep_take(self, take: KeptTake) -> None:
        """Keep what was heard in a take."""
        with _told(self.path):
            self._link.execute(_TAKES)
            self._link.execute(_KEEP_TAKE, take)

    def takes(self, player: str | None = None) -> list[KeptTake]:
        """The takes of a player, of all where none is named, in the order they were kept."""
        with _told(self.path):
            self._link.execute(_TAKES)
            found = self._link.execute("SELECT player, moment, score, file, words, record FROM take ORDER BY id")
            takes = [KeptTake(*map(str, each)) for each in found]
        return [take for take in takes if player in (None, take.player)]

    def players(self) -> list[str]:
        """Everybody who has answered a trial or kept a take."""
        with _told(self.path):
            found = {name for (name,) in self._link.execute("SELECT DISTINCT player FROM trial")}
        return sorted(found | {take.player for take in self.takes()})

    def delete(self, player: str) -> int:
        """Forget a player; returns how many answers are gone. Nothing of them or of their takes is left in the file."""
        with _told(self.path):
            self._link.execute("PRAGMA secure_delete = ON")
            self._link.execute(_TAKES)
            self._link.execute("DELETE FROM take WHERE player = ?", (player,))
            gone = self._link.execute("DELETE FROM trial WHERE player = ?", (player,)).rowcount
            self._link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            return gone


def _write_ahead(link: sqlite3.Connection) -> None:
    """Keep a log; where two programs turn to it at once SQLite refuses one without waiting, so it is waited here."""
    until_s = time.monotonic() + _WAIT_S
    while True:
        try:
            link.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until_s:
                raise
            time.sleep(0.01)
        else:
            return


def _prepare(link: sqlite3.Connection, path: Path) -> None:
    version = link.execute("PRAGMA user_version").fetchone()[0]
    if version > VERSION:
        raise StoreError(
            path,
            f"is of version {version}; this appui knows versions up to {VERSION}, and leaves it as it is",
            "install the newer appui, or name another file with --store",
        )
    _write_ahead(link)
    link.execute("PRAGMA synchronous = FULL")
    if version == 0:
        link.execute("BEGIN IMMEDIATE")
        # another program may have made the tables while this one waited
        if link.execute("PRAGMA user_version").fetchone()[0] == 0:
            for statement in filter(str.strip, _TABLES.split(";")):
                link.execute(statement)
            link.execute(f"PRAGMA user_version = {VERSION}")
        link.execute("COMMIT")


_DAMAGED = "move it away and import your exports, or name another with --store"
#  what SQLite says: what it means to a player, what to do
_MEANINGS = (
    ("locked", "is held by another program", "close the other program and try again"),
    ("full", "cannot be written: the disk is full", "free space there"),
    ("readonly", "may not be written", "give yourself the right to write it, or name another file with --store"),
    (
        "not a database",
        "is no database of results",
        _DAMAGED,
    ),
    ("disk I/O", "cannot be used: the disk may be full", "free space there, or name another file with --store"),
    ("malformed", "is damaged", _DAMAGED),
    ("no such", "has not the tables of our results", _DAMAGED),
    ("decode", "is damaged", _DAMAGED),
)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Errors of the database and the system as ours."""
    try:
        yield
    except sqlite3.Error as error:
        found = next((each for each in _MEANINGS if each[0] in str(error)), None)
        problem, remedy = found[1:] if found else (f"cannot be used ({error})", "name another file with --store")
        raise StoreError(path, problem, remedy) from None
    except OSError as error:
        remedy = "name another file with --store"
        raise StoreError(path, f"cannot be opened ({error.strerror or error})", remedy) from None


def rows_to_json(rows: Sequence[Row]) -> str:
    """Rows as an export."""
    record = {"format": FORMAT, "version": VERSION, "trials": [row._asdict() for row in rows]}
    return json.dumps(record, ensure_ascii=False, indent=1) + "\n"


def rows_to_csv(rows: Sequence[Row]) -> str:
    """Rows as a table with a head."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*Row._fields, "right"))
    writer.writerows((*row, "" if row.catch else int(row.right)) for row in rows)
    return out.getvalue()


def rows_from_json(text: str, file: Path) -> list[Row]:
    """The rows of an export; raises `StoreError` saying which trial is wrong, and then none of them is taken."""
    remedy = "export it again"
    try:
        record = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise StoreError(file, f"is no JSON, or cut short ({error})", remedy) from None
    if not isinstance(record, dict) or record.get("format") != FORMAT or not isinstance(record.get("trials"), list):
        raise StoreError(file, "is no export of drill results", remedy)
    if record.get("version") != VERSION:
        raise StoreError(file, f"is of version {record.get('version')}, not {VERSION}", "use the appui that made it")
    return [_row(each, f"trial {number}", file) for number, each in enumerate(record["trials"], 1)]


def _row(each: Any, place: str, file: Path, remedy: str = "export it again") -> Row:
    if not isinstance(each, dict) or set(each) != set(Row._fields):
        missing = ", ".join(name for name in Row._fields if not isinstance(each, dict) or name not in each)
        raise StoreError(file, f"lacks {missing}" if missing else "has more in it than a trial", remedy, place=place)
    for name, types in _TYPES.items():
        if not isinstance(each[name], types) or isinstance(each[name], bool) or not _sound(each[name]):
            raise StoreError(file, f"{name} is {each[name]!r:.60}", remedy, place=place)
    if not 0 < each["level"] < 1e6 or not -1 <= each["answer"] <= 2 or not 0 <= each["given"] <= 2:
        raise StoreError(file, "its level or answers are out of range", remedy, place=place)
    return Row(**each)


def _sound(value: str | float) -> bool:
    """Whether the database can hold a value: text of a decent length without halves of letters, small numbers."""
    if not isinstance(value, str):
        return abs(value) < 1e9
    return len(value) <= _LONGEST and not any("\ud800" <= letter <= "\udfff" for letter in value)
