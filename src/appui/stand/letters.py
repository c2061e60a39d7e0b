"""What goes between teacher and pupil: remarks at ornaments, places to decide, and the answers that come back.

Remarks lie beside the score as JSON:

    {"format": "appui remarks", "version": 1, "score": SHA-256, "remarks": {PLACE: WORDS}, "decide": [PLACE, ...]}

A page that is sent carries them; what it gives back is one small file:

    {"format": "appui answers", "version": 1, "score": SHA-256, "title": ..., "name": ..., "choices": {PLACE: WORDS},
     "blind": [{"place": PLACE, "right": true}, ...]}

Both may come from anybody and are read within limits.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from appui.errors import InputError, UsageError
from appui.interpret.interpretation import Interpretation
from appui.sound.files import whole_file
from appui.stand.desk import Opened
from appui.text import text_of

__all__ = ["ANSWERS", "REMARKS", "Remarks", "compared", "read_remarks", "write_remarks"]

REMARKS, ANSWERS, VERSION = "appui remarks", "appui answers", 1
_LONGEST, _MOST = 2000, 2000
_MOST_BYTES = 5_000_000
_REMEDY = "take the file the page has saved"


@dataclass(frozen=True)
class Remarks:
    """Words at ornaments by place, and the places that are to be decided."""

    remarks: Mapping[str, str] = field(default_factory=dict)
    decide: tuple[str, ...] = ()


def read_remarks(path: Path) -> Remarks:
    """The remarks in a file, none where there is no file; raises `InputError`."""
    if not path.exists():
        return Remarks()
    text = text_of(path, InputError, "file of remarks", "mend it, or move it away", most_bytes=_MOST_BYTES)
    said = _object(text, path.name)
    decide = _texts(dict.fromkeys(_list(said.get("decide")), ""), path.name)
    return Remarks(_texts(said.get("remarks"), path.name), tuple(decide))


def write_remarks(path: Path, score: str, remarks: Remarks) -> None:
    """Keep remarks; raises `UsageError` for too long ones, `OutputError`."""
    if len(remarks.remarks) > _MOST or any(len(words) > _LONGEST for words in remarks.remarks.values()):
        raise UsageError(f"a remark may have {_LONGEST} letters")
    kept = {place: words for place, words in remarks.remarks.items() if words.strip()}
    record = {"format": REMARKS, "version": VERSION, "score": score, "remarks": kept, "decide": list(remarks.decide)}
    with whole_file(path, given=True) as passing:
        passing.write_text(json.dumps(record, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def compared(opened: Opened, text: str) -> dict[str, Any]:
    """A pupil's answers beside the player's own, disagreements first; raises `InputError`, `UsageError`."""
    said, player = _object(text, "the answers"), opened.interpretation
    if said.get("format") != ANSWERS:
        raise InputError("the answers", "are no file a page has given back", _REMEDY)
    if said.get("score") != player.score.sha256:
        title = str(said.get("title") or "another piece")[:200]
        raise UsageError(f"these answers are for another score ({title}): open that piece, then take them in there")
    choices = _texts(said.get("choices"), "the answers")
    rows = [_row(player, sign.place, choices[sign.place]) for sign in opened.ornaments() if sign.place in choices]
    blind = [each for each in _list(said.get("blind")) if isinstance(each, dict)][:_MOST]
    known = {sign.place for sign in opened.ornaments()}
    return {
        "name": str(said.get("name") or "the pupil")[:80],
        "rows": sorted(rows, key=lambda row: bool(row["alike"])),
        "alike": sum(row["alike"] for row in rows),
        "blind": {"right": sum(each.get("right") is True for each in blind), "of": len(blind)},
        "unknown": sum(place not in known for place in choices),
    }


def _row(player: Interpretation, place: str, words: str) -> dict[str, Any]:
    choice = player.choices[place]
    sign = player.sign_at(place)
    try:
        theirs = player.reading(place, words).text
    except UsageError:
        theirs = words
    return {
        "place": place,
        "bar": player.score.bars[sign.main(player.score).bar].number,
        "kind": sign.kind,
        "mine": choice.reading.text,
        "theirs": theirs,
        "alike": theirs == choice.reading.text,
        "why": choice.reason,
    }


def _object(text: str, file: str) -> dict[str, Any]:
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError(file, "is no JSON", _REMEDY) from None
    if not isinstance(said, dict):
        raise InputError(file, "is not what a page saves", _REMEDY)
    return said


def _list(said: object) -> list[Any]:
    return said if isinstance(said, list) else []


def _texts(said: object, file: str) -> dict[str, str]:
    """A table of places and words; raises `InputError` for anything else."""
    table = said if isinstance(said, dict) else {}
    fits = all(isinstance(key, str) and isinstance(word, str) and len(word) <= _LONGEST for key, word in table.items())
    if len(table) > _MOST or not fits:
        raise InputError(file, "holds something else than words at places", _REMEDY)
    return table
