"""What a teacher writes at ornaments: remarks, and which are to be decided; a file beside the score.

    {"format": "appui remarks", "version": 1, "score": SHA-256, "remarks": {PLACE: WORDS}, "decide": [PLACE, ...]}

It may come from anybody and is read within limits.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from appui.errors import InputError, UsageError
from appui.sound.files import whole_file
from appui.text import text_of

__all__ = ["REMARKS", "Letter", "Remarks", "list_of", "object_of", "read_remarks", "texts_of", "write_remarks"]

REMARKS, VERSION = "appui remarks", 1
_LONGEST, _MOST = 2000, 2000
_MOST_BYTES = 5_000_000
_REMEDY = "take the file as it was saved"


@dataclass(frozen=True)
class Remarks:
    """Words at ornaments by place, and the places that are to be decided."""

    remarks: Mapping[str, str] = field(default_factory=dict)
    decide: tuple[str, ...] = ()


@dataclass(frozen=True)
class Letter:
    """What is sent with a page: remarks, places to be decided, and whether the answers there are `hidden` till then."""

    remarks: Remarks
    hidden: bool = False

    @property
    def record(self) -> dict[str, Any]:
        """The same for the page's data."""
        return {"remarks": dict(self.remarks.remarks), "decide": list(self.remarks.decide), "hide": self.hidden}


def read_remarks(path: Path) -> Remarks:
    """The remarks in a file, none where there is no file; raises `InputError`."""
    if not path.exists():
        return Remarks()
    text = text_of(path, InputError, "file of remarks", "mend it, or move it away", most_bytes=_MOST_BYTES)
    said = object_of(text, path.name)
    decide = texts_of(dict.fromkeys(list_of(said.get("decide")), ""), path.name)
    return Remarks(texts_of(said.get("remarks"), path.name), tuple(decide))


def write_remarks(path: Path, score: str, remarks: Remarks) -> None:
    """Keep remarks; raises `UsageError` for too long ones, `OutputError`."""
    if len(remarks.remarks) > _MOST or any(len(words) > _LONGEST for words in remarks.remarks.values()):
        raise UsageError(f"a remark may have {_LONGEST} letters")
    kept = {place: words for place, words in remarks.remarks.items() if words.strip()}
    record = {"format": REMARKS, "version": VERSION, "score": score, "remarks": kept, "decide": list(remarks.decide)}
    with whole_file(path, given=True) as passing:
        passing.write_text(json.dumps(record, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def object_of(text: str, file: str) -> dict[str, Any]:
    """The table that a JSON text is; raises `InputError`."""
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError(file, "is no JSON", _REMEDY) from None
    if not isinstance(said, dict):
        raise InputError(file, "is not what a page saves", _REMEDY)
    return said


def list_of(said: object) -> list[Any]:
    """A list, empty for anything else."""
    return said if isinstance(said, list) else []


def texts_of(said: object, file: str) -> dict[str, str]:
    """A table of places and words; raises `InputError` for anything else."""
    table = said if isinstance(said, dict) else {}
    fits = all(isinstance(key, str) and isinstance(word, str) and len(word) <= _LONGEST for key, word in table.items())
    if len(table) > _MOST or not fits:
        raise InputError(file, "holds something else than words at places", _REMEDY)
    return table
