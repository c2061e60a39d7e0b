"""A folder in the system's temporary folder that is gone afterwards, whatever happens.

A process killed outright cannot tidy up, so the next one does: every such folder holds a file, `MARK`, that its
process keeps locked and that has the process's number in it. A folder is swept away only if it is of our making and
nobody's any more: a real folder of this user's, with a mark, and the mark's lock free. The system frees the lock of a
process that is gone, however it went, and keeps that of one in another container, whose number would say nothing here.

Where there are no such locks (Windows) nothing is swept.
"""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path

from appui.errors import OutputError

__all__ = ["MARK", "PREFIX", "scratch", "sweep"]

PREFIX = "appui-"
MARK = "owner"
_WITHIN = "files"
_OPENED = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)


@contextmanager
def scratch() -> Iterator[Path]:
    """A folder for files of this run; raises `OutputError` where none can be made."""
    try:
        place = Path(tempfile.gettempdir())
        _sweep_once(place)
        folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=place))
    except OSError as error:
        reason = error.strerror or error
        raise OutputError("scratch folder", f"cannot be made ({reason})", "free space, or set TMPDIR") from None
    mark = _marked(folder)
    try:
        (folder / _WITHIN).mkdir()
        yield folder / _WITHIN
    finally:
        _remove(folder, mark)


def _remove(folder: Path, mark: int | None) -> None:
    """The mark goes last: what is left by a process killed meanwhile, or by an error, is the next run's to sweep."""
    shutil.rmtree(folder / _WITHIN, ignore_errors=True)
    with suppress(OSError):
        if mark is not None:
            os.close(mark)  # an open file cannot be taken away everywhere
        if not (folder / _WITHIN).exists():
            (folder / MARK).unlink(missing_ok=True)
            folder.rmdir()


@lru_cache
def _sweep_once(place: Path) -> None:
    sweep(place)


def sweep(place: Path) -> None:
    """Take away the scratch folders in `place` whose processes are gone."""
    with suppress(OSError), os.scandir(place) as entries:
        left = [Path(entry.path) for entry in entries if entry.name.startswith(PREFIX)]
        for folder in left:
            if _is_ours(folder):
                _take_away(folder)


def _is_ours(path: Path) -> bool:
    try:
        found = path.lstat()
    except OSError:
        return False
    return stat.S_ISDIR(found.st_mode) and hasattr(os, "getuid") and found.st_uid == os.getuid()


def _take_away(folder: Path) -> None:
    """Unless its mark is missing, not written yet, or locked."""
    try:
        mark = os.open(folder / MARK, _OPENED)
    except OSError:
        return
    # the number is written after the lock is taken: no number, no process that has had it yet
    if _locked(mark) and os.read(mark, 32).strip().isdigit():
        _remove(folder, mark)
    else:
        os.close(mark)


def _marked(folder: Path) -> int | None:
    """The mark, open and locked as long as this process lives; `None` where that cannot be: it is never swept then."""
    try:
        mark = os.open(folder / MARK, _OPENED | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError:
        return None
    with suppress(OSError):
        if _locked(mark):
            os.write(mark, b"%d\n" % os.getpid())
    return mark


def _locked(file: int) -> bool:
    """Whether the file is now locked for this process."""
    try:
        import fcntl
    except ImportError:
        return False
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
