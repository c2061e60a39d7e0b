"""The report of a batch: a row a score and style, as JSON lines while it goes on and as a table at the end.

`report.jsonl` grows by whole lines, so that a batch that is stopped can be resumed; a line torn by a stop is left out
when it is read again. At the end it is written anew, in order.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TextIO

from appui.errors import writable
from appui.sound.files import write_whole
from appui.text import counted

__all__ = ["REPORT", "Row", "add_row", "read_rows", "table_text", "write_report"]

REPORT = "report.jsonl"
_TABLE = "report.txt"


@dataclass(frozen=True, slots=True)
class Row:
    """What became of one score under one style.

    `status`: ``done``, ``refused`` (the score or what is asked of it cannot be used: `error` says why) or ``fault`` (an
    error of the program itself). `digest` tells the same work from other work; `files` below the batch's folder, with
    their sizes in bytes; `seconds` by the clock.
    """

    score: str
    style: str
    what: str
    status: str
    seconds: float = 0.0
    signs: int = 0
    error: str = ""
    files: tuple[tuple[str, int], ...] = ()
    digest: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """What a row is of."""
        return self.score, self.style, self.what


def _line(row: Row) -> str:
    return writable(json.dumps(asdict(row), ensure_ascii=False, sort_keys=True)) + "\n"


def add_row(stream: TextIO, row: Row) -> None:
    """One more line."""
    stream.write(_line(row))
    stream.flush()


def read_rows(folder: Path) -> dict[tuple[str, str, str], Row]:
    """The rows of an earlier run, the last of each; none where there is no report."""
    try:
        text = (folder / REPORT).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return {}
    rows = (_row(line) for line in text.splitlines())
    return {row.key: row for row in rows if row is not None}


def _row(line: str) -> Row | None:
    try:
        found = json.loads(line)
        names = {field.name for field in fields(Row)}
        if set(found) != names:
            return None
        row = Row(**{**found, "files": tuple((str(name), int(size)) for name, size in found["files"])})
        hash(row.key)
    except (ValueError, TypeError, RecursionError):
        return None
    return row


def write_report(folder: Path, rows: Sequence[Row]) -> None:
    """The report in order, and the table beside it."""
    write_whole(folder / REPORT, "".join(map(_line, rows)).encode())
    write_whole(folder / _TABLE, writable(table_text(rows)).encode())


def table_text(rows: Sequence[Row]) -> str:
    """The rows as a plain table, then a line of totals."""
    lines = [("score", "style", "seconds", "ornaments", "")]
    lines += [(row.score, row.style, f"{row.seconds:.2f}", str(row.signs), _outcome(row)) for row in rows]
    widths = [max(len(line[column]) for line in lines) for column in range(4)]
    return "".join(_aligned(line, widths) + "\n" for line in lines) + f"\n{_totals(rows)}\n"


def _aligned(line: Sequence[str], widths: Sequence[int]) -> str:
    cells = (line[0].ljust(widths[0]), line[1].ljust(widths[1]), line[2].rjust(widths[2]), line[3].rjust(widths[3]))
    return "  ".join((*cells, line[4])).rstrip()


def _outcome(row: Row) -> str:
    return "" if row.status == "done" else f"{row.status}: {' '.join(row.error.split())}"


def _totals(rows: Iterable[Row]) -> str:
    rows = list(rows)
    count = Counter(row.status for row in rows)
    told = ", ".join(f"{count[status]} {status}" for status in ("done", "refused", "fault") if count[status])
    scores, ornaments = len({row.score for row in rows}), sum(row.signs for row in rows)
    return f"{counted(scores, 'score')}: {told}; {counted(ornaments, 'ornament')}"
