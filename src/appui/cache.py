"""What has been computed before, kept in the user's cache folder: parsed scores and rendered stems.

Entries are named by what they are made from (a hash of the content and of the code that made them), so that a changed
file or program never meets an old entry. They appear whole or not at all, several processes may use them at once, and
what was used longest ago goes when there is more than `LIMIT_BYTES`. Nothing depends on the cache: where it cannot be
read or written it is as if it were empty.

The environment variable ``APPUI_CACHE`` names another folder, or is ``off``.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

__all__ = ["LIMIT_BYTES", "VARIABLE", "code_key", "fetch", "fetch_file", "folder", "keep", "keep_file", "key_of"]

VARIABLE = "APPUI_CACHE"
LIMIT_BYTES = 2_000_000_000
_LEFT = 0.8  # of the limit, after making room
_PASSING = ".appui-"


def folder() -> Path | None:
    """Where entries lie; `None` where the cache is off."""
    said = os.environ.get(VARIABLE, "")
    if said == "off":
        return None
    if said:
        return Path(said)
    from platformdirs import user_cache_path

    return user_cache_path("appui", appauthor=False)


def key_of(parts: Iterable[bytes]) -> str:
    """The name of what is made from these."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return digest.hexdigest()


@lru_cache
def code_key(*rooms: str) -> bytes:
    """The code of some rooms: a changed module makes new entries."""
    digest = hashlib.sha256()
    for room in rooms:
        for file in sorted((Path(__file__).parent / room).glob("*.py")):
            digest.update(file.name.encode() + b"\n" + file.read_bytes())
    return digest.digest()


def fetch(kind: str, key: str) -> bytes | None:
    """An entry's bytes, or `None` where there is none."""
    place = _place(kind, key)
    if place is None:
        return None
    try:
        data = place.read_bytes()
        os.utime(place)
    except OSError:
        return None
    return data


def keep(kind: str, key: str, data: bytes) -> None:
    """Keep bytes for the next time."""
    _keep(kind, key, lambda passing: passing.write_bytes(data))


def fetch_file(kind: str, key: str, to: Path) -> bool:
    """Put an entry's file at a path that is not there yet; whether there was one."""
    place = _place(kind, key)
    if place is None:
        return False
    try:
        _share(place, to)
        os.utime(place)
    except OSError:
        return False
    return True


def keep_file(kind: str, key: str, file: Path) -> None:
    """Keep a file for the next time; it must not be written to afterwards."""
    _keep(kind, key, lambda passing: _share(file, passing))


def _keep(kind: str, key: str, make: Callable[[Path], object]) -> None:
    """An entry as `make` writes it to a path that is not there yet."""
    place = _place(kind, key)
    if place is None:
        return
    with suppress(OSError):
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=_PASSING, dir=place.parent)
        os.close(handle)
        passing = Path(name)
        try:
            passing.unlink()
            make(passing)
            passing.replace(place)
        finally:
            passing.unlink(missing_ok=True)
        _make_room(place.parents[1])


def _place(kind: str, key: str) -> Path | None:
    base = folder()
    return None if base is None else base / kind / key


def _share(file: Path, to: Path) -> None:
    """The same file under another name, or a copy where the two lie on different disks."""
    try:
        to.hardlink_to(file)
    except FileExistsError:
        raise
    except OSError:
        shutil.copyfile(file, to)


def _make_room(base: Path) -> None:
    entries = [(found.st_mtime_ns, found.st_size, path) for path, found in _entries(base)]
    total = sum(size for _, size, _ in entries)
    if total <= LIMIT_BYTES:
        return
    for _, size, path in sorted(entries):
        # another process may have been quicker
        with suppress(OSError):
            path.unlink()
        total -= size
        if total <= LIMIT_BYTES * _LEFT:
            return


def _entries(base: Path) -> Iterable[tuple[Path, os.stat_result]]:
    for path in base.glob("*/*"):
        with suppress(OSError):
            yield path, path.stat()
