"""How true the samples of a SoundFont are, key by key, and what to take away so that what sounds is in tune.

A SoundFont's recorded notes lie some cents beside where they should, as much as a temperament moves a note. The table
`intonation.toml` holds what `tests/benchmarks/intonation.py` measured over the compass of the instruments that matter,
for the SoundFonts it was run on; a SoundFont is known by its tables of presets and samples and its size, whatever its
name. What is not in the table sounds as its samples are.
"""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from appui.sound.soundfont import tables_bytes

__all__ = ["FILE", "fingerprint", "measured_cents", "write_table"]

FILE = Path(__file__).with_name("intonation.toml")


def measured_cents(soundfont: Path, program: int) -> Mapping[int, float]:
    """Cents of each measured key of a program above where it should be; empty where nobody measured."""
    return _of(fingerprint(soundfont)).get(program, {})


def fingerprint(soundfont: Path) -> str:
    """What a SoundFont is known by; raises `SoundError` for a file that is none."""
    found = soundfont.resolve().stat()
    return _fingerprint(soundfont.resolve(), found.st_size, found.st_mtime_ns)


@lru_cache(maxsize=16)
def _fingerprint(soundfont: Path, size: int, changed_ns: int) -> str:
    del changed_ns  # only so that a file that was written again is read again
    return hashlib.sha256(size.to_bytes(8, "big") + tables_bytes(soundfont)).hexdigest()[:32]


@lru_cache(maxsize=16)
def _of(name: str) -> Mapping[int, Mapping[int, float]]:
    """By program and key; a row is its first key, then cents key by key, `nan` where nothing could be measured."""
    rows: dict[str, list[float]] = _table().get(name, {}).get("cents", {})
    return {
        int(program): {int(row[0]) + place: cents for place, cents in enumerate(row[1:]) if not math.isnan(cents)}
        for program, row in rows.items()
    }


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads(FILE.read_text(encoding="utf-8"))


def write_table(soundfont: Path, measured: Mapping[int, Mapping[int, float]]) -> None:
    """Put what was measured of a SoundFont into the table, cents by program and key, in place of what stood there."""
    name = fingerprint(soundfont)
    rows = {}
    for program, cents in measured.items():
        if cents:
            keys = range(min(cents), max(cents) + 1)
            rows[str(program)] = [min(cents), *(round(cents.get(key, math.nan), 1) for key in keys)]
    table = _table() | {name: {"file": soundfont.name, "cents": rows}}
    FILE.write_text(_HEAD + "".join(_entry(name, table[name]) for name in sorted(table)), encoding="utf-8")
    _table.cache_clear()
    _of.cache_clear()


_HEAD = """\
# Cents of the keys of SoundFonts above equal temperament at A = 440 Hz: by program, the first key, then key by key.
# Made by `python -m tests.benchmarks.intonation SOUNDFONT --write`; nan: could not be measured, left as it is.
"""


def _entry(name: str, entry: Mapping[str, Any]) -> str:
    rows = "".join(f"{program} = [{', '.join(map(str, row))}]\n" for program, row in entry["cents"].items())
    return f'\n[{name}]\nfile = "{entry["file"]}"\n[{name}.cents]\n{rows}'
