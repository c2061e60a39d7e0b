"""Which SoundFont plays, whether it is one, and which programs it has.

The default is the small General MIDI SoundFont inside the pretty_midi package, found without importing it.
`APPUI_SOUNDFONT` or the option ``--soundfont`` names another. A better one that the system has is never taken by
itself, so that one score sounds alike on every machine; `fuller_soundfont` finds it to be told of. The file is walked
before the synthesizer sees it: RIFF, form ``sfbk``, every chunk inside its list, every table made of whole records.

Source: SoundFont 2.04, sections 4 to 7 (memory). A SoundFont 3 is the same file with compressed samples.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Collection, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import BinaryIO, NamedTuple

from appui.errors import SoundError
from appui.given import give

__all__ = ["VARIABLE", "default_soundfont", "fuller_soundfont", "programs", "soundfont_path", "tables_bytes"]

VARIABLE = "APPUI_SOUNDFONT"
PERCUSSION_BANK = 128
#  where packages of Debian and others put SoundFonts
PLACES = (Path("/usr/share/sounds/sf2"), Path("/usr/share/soundfonts"), Path("/usr/local/share/soundfonts"))
FULLER = "FluidR3_GM.sf2"
#  what it was measured to do better (`python -m tests.benchmarks.soundfonts`): its oboe speaks sooner, keeps steadier
#  and is better in tune; its flute is not 5 dB softer than the oboe; its recorder speaks in 14 ms, not in 47
FULLER_PROGRAMS = frozenset({68, 73, 74})
_REMEDY = "name a .sf2 file; soundfonts_readme/README.md says where to get one"
_AGAIN = "get it again, whole"
#  bytes a record in the nine tables of the list `pdta`; each ends in one record that only closes it
RECORDS = {
    "phdr": 38,
    "pbag": 4,
    "pmod": 10,
    "pgen": 4,
    "inst": 22,
    "ibag": 4,
    "imod": 10,
    "igen": 4,
    "shdr": 46,
}
LISTS = ("INFO", "sdta", "pdta")
#  far more than there are kinds of them: zeros without end would be as many empty chunks
MAX_CHUNKS = 1_000
MAX_PRESETS = 65_536


class _Chunk(NamedTuple):
    """A chunk of a RIFF file: its name (that of its form for a list), where its data starts and ends."""

    name: str
    start: int
    end: int


def default_soundfont() -> Path:
    """The SoundFont that comes with the installation; raises `SoundError` where it is missing."""
    spec = find_spec("pretty_midi")
    folder = Path(spec.origin).parent if spec is not None and spec.origin else None
    found = sorted(folder.glob("*.sf2")) if folder else []
    if not found:
        raise SoundError(
            "pretty_midi", "holds no SoundFont", "install pretty_midi, or name a SoundFont with --soundfont"
        )
    return found[0]


def soundfont_path(wanted: Path | str | None = None) -> Path:
    """The SoundFont to use: the one named, else the environment's, else the default.

    Raises `SoundError` where it is none.
    """
    named = wanted or os.environ.get(VARIABLE)
    path = Path(named) if named else default_soundfont()
    _tables(path)
    return path


def fuller_soundfont(played: Collection[int]) -> Path | None:
    """A SoundFont of the system that plays some of these programs better than the default; `None` where one is named.

    It is sought in `PLACES` only.
    """
    if os.environ.get(VARIABLE) or FULLER_PROGRAMS.isdisjoint(played):
        return None
    return next((path for place in PLACES if (path := place / FULLER).is_file()), None)


def programs(path: Path) -> frozenset[tuple[int, int]]:
    """The presets of a SoundFont as (bank, program); percussion kits are bank 128. Raises `SoundError`."""
    table = _tables(path)["phdr"]
    with path.open("rb") as stream:
        stream.seek(table.start)
        data = stream.read(table.end - table.start)
    presets = [struct.unpack_from("<20xHH", data, at) for at in range(0, len(data) - RECORDS["phdr"], RECORDS["phdr"])]
    return frozenset((bank, program) for program, bank in presets)


def tables_bytes(path: Path) -> bytes:
    """The tables of a SoundFont that say how its samples are played, one after another; raises `SoundError`."""
    tables = _tables(path)
    with path.open("rb") as stream:
        return b"".join(_read(stream, tables[name]) for name in RECORDS)


def _read(stream: BinaryIO, chunk: _Chunk) -> bytes:
    stream.seek(chunk.start)
    return stream.read(chunk.end - chunk.start)


def _tables(path: Path) -> dict[str, _Chunk]:
    """The tables of a SoundFont by name, each checked; raises `SoundError` naming what is wrong."""
    give(path)
    try:
        if path.exists() and not (path.is_file() or path.is_dir()):
            raise SoundError(path, "is a device, not an ordinary file", _REMEDY)
        size = path.stat().st_size
        with path.open("rb") as stream:
            lists = {chunk.name: chunk for chunk in _walk(path, stream, _whole(path, stream, size))}
            missing = [name for name in LISTS if name not in lists]
            if missing:
                raise SoundError(path, f"is a SoundFont without its list {missing[0]}", _AGAIN)
            tables = {chunk.name: chunk for chunk in _walk(path, stream, lists["pdta"])}
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SoundError(path, f"the SoundFont cannot be read ({reason})", _REMEDY) from None
    for name, record in RECORDS.items():
        _check_table(path, name, record, tables.get(name))
    presets = tables["phdr"]
    if presets.end - presets.start > MAX_PRESETS * RECORDS["phdr"]:
        raise SoundError(path, f"is a damaged SoundFont: more than {MAX_PRESETS:,} presets", _AGAIN)
    return tables


def _whole(path: Path, stream: BinaryIO, size: int) -> _Chunk:
    head = stream.read(12)
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise SoundError(path, "is no SoundFont", _REMEDY)
    claimed: int = struct.unpack("<I", head[4:8])[0] + 8
    if claimed > size:
        raise SoundError(path, f"is a SoundFont cut short: {size} of {claimed} bytes", _AGAIN)
    return _Chunk("sfbk", 12, claimed)


def _walk(path: Path, stream: BinaryIO, outer: _Chunk) -> Iterator[_Chunk]:
    """The chunks inside a chunk; sizes are rounded up to even numbers."""
    at, count = outer.start, 0
    while at + 8 <= outer.end:
        count += 1
        if count > MAX_CHUNKS:
            raise SoundError(path, f"is a damaged SoundFont: more than {MAX_CHUNKS:,} chunks in {outer.name}", _AGAIN)
        stream.seek(at)
        kind, size = struct.unpack("<4sI", stream.read(8))
        name = stream.read(4) if kind == b"LIST" else kind
        if at + 8 + size > outer.end:
            raise SoundError(
                path, f"is a damaged SoundFont: a chunk at byte {at} claims {size} bytes, more than there are", _AGAIN
            )
        yield _Chunk(name.decode("latin-1"), at + (12 if kind == b"LIST" else 8), at + 8 + size)
        at += 8 + size + size % 2


def _check_table(path: Path, name: str, record: int, chunk: _Chunk | None) -> None:
    length = chunk.end - chunk.start if chunk else 0
    if length < record or length % record:
        raise SoundError(
            path, f"is a damaged SoundFont: its table {name} has {length} bytes, not records of {record}", _AGAIN
        )
