"""Output that appears whole or not at all.

A file is written beside its place under a passing name, flushed to the disk, then renamed over what was there.
Whatever goes wrong on the way, an existing file is untouched and nothing half-written is left; only a process killed
outright leaves its passing file (`.appui-…`) behind, which the next one that writes to that folder sweeps away.

Folders are not made for a single file: a wrong letter in a path would make a wrong tree. Commands that fill a folder
make theirs with `make_folder`.
"""

from __future__ import annotations

import errno
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from hashlib import sha256
from itertools import count
from pathlib import Path

from appui.errors import OutputError
from appui.given import was_given

__all__ = ["SWEEP_AFTER_S", "check_place", "make_folder", "new_folder", "whole_file", "write_editable", "write_whole"]

PASSING = ".appui-"
#  a passing file that nobody has touched for so long belongs to no run any more
SWEEP_AFTER_S = 600.0
_ELSEWHERE = "name another place"
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


@contextmanager
def whole_file(path: Path, *, flushed: bool = True, given: bool = False) -> Iterator[Path]:
    """A passing file to write to, which takes the place of `path` when the block ends without an error.

    Not `flushed`, the system takes it to the disk when it likes: faster, and whole for whoever looks at it, but a power
    cut may leave it short; only for files whose size is known elsewhere, to be made again. With `given` a file that the
    command was given may be replaced: whoever says so has kept it elsewhere.

    Raises `OutputError` naming the file and the cause where the system refuses, in the block too.
    """
    path = Path(path)
    temporary: Path | None = None
    try:
        place = _place(path, given=given)
        _sweep(place.parent)
        handle, name = tempfile.mkstemp(prefix=PASSING, suffix=place.suffix, dir=place.parent)
        os.close(handle)
        temporary = Path(name)
        yield temporary
        _settle(temporary, place, flushed=flushed)
    except OSError as error:
        raise _refusal(path, error) from None
    finally:
        if temporary is not None:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)


def _place(path: Path, *, given: bool = False) -> Path:
    """Where the file really goes: links are followed, and nothing but an ordinary file is replaced."""
    _check_name(path)
    if path.is_dir():
        raise OutputError(path, "is a folder", "give the name of a file")
    if path.exists() and not path.is_file():
        raise OutputError(path, "is a device, not an ordinary file", "give the name of a file")
    if not given and was_given(path):
        raise OutputError(path, "is a file this command reads: it would be lost", "give another name")
    return Path(os.path.realpath(path))


def _check_name(path: Path) -> None:
    # from a set file; the system's calls would raise a ValueError
    if "\0" in str(path):
        raise OutputError(path, "is no name a file can have", "leave out the NUL")


def _settle(temporary: Path, place: Path, *, flushed: bool) -> None:
    if flushed:
        with temporary.open("rb") as stream:
            os.fsync(stream.fileno())
    temporary.chmod(_mode(place))
    temporary.replace(place)


def _mode(place: Path) -> int:
    """The permissions of the file there, else those of a new file: mkstemp's are for its owner alone."""
    if place.exists():
        return place.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _refusal(path: Path, error: OSError) -> OutputError:
    # the system's own folders (/proc) say of a new file in them that it is not found
    there = Path(os.path.realpath(path)).parent if path.is_symlink() else path.parent
    if isinstance(error, FileNotFoundError | NotADirectoryError) and not there.is_dir():
        return OutputError(path, f"its folder {there} does not exist", "make the folder or name another")
    if isinstance(error, FileNotFoundError):
        return OutputError(path, f"cannot be written: the system takes no files in {path.parent}", _ELSEWHERE)
    remedy = f"free space there, or {_ELSEWHERE}" if error.errno in _FULL else _ELSEWHERE
    return OutputError(path, f"cannot be written ({error.strerror or error})", remedy)


class _EnoughError(Exception):
    """Ends a trial at writing."""


def check_place(path: Path) -> None:
    """Refuse a place that cannot be written before minutes of rendering; raises `OutputError`."""
    with suppress(_EnoughError), whole_file(path):
        raise _EnoughError


def write_whole(path: Path, data: bytes, *, flushed: bool = True) -> None:
    """Write a whole file at once, `flushed` as in `whole_file`; raises `OutputError` as that does."""
    with whole_file(path, flushed=flushed) as temporary:
        temporary.write_bytes(data)


def write_editable(path: Path, text: str | bytes, *, comment: str = "# {}", replace: bool = False) -> Path | None:
    """Write a text that a person may then edit by hand; returns where what was there is kept, if anything was.

    The text ends in a comment with its own digest, so that an unedited file is known and written over like any other.
    One that was edited, or that somebody else wrote, is replaced only when asked (`replace`), and kept beside as
    ``NAME.before``. `comment` is how a line is made a comment.

    Raises `OutputError` for a file that is not to be replaced, and as `write_whole` does.
    """
    before = _there(path)
    data = _signed(text if isinstance(text, bytes) else text.encode(), comment)
    if before is None or (not was_given(path) and (before == data or _is_ours(before, comment))):
        write_whole(path, data)
        return None
    if not replace:
        raise OutputError(
            path,
            "is there already, and was edited by hand or not written by appui",
            "give another name, or add --replace: what is there is then kept beside it",
        )
    kept = _free_name(path)
    write_whole(kept, before)
    # what is kept may be replaced, even where it was read
    with whole_file(path, given=True) as temporary:
        temporary.write_bytes(data)
    return kept


_SIGNATURE = "as appui wrote it: {}"


def _signed(text: bytes, comment: str) -> bytes:
    body = text.rstrip(b"\n") + b"\n"
    line = comment.format(_SIGNATURE.format(sha256(body).hexdigest()[:16])) + "\n"
    return body + line.encode()


def _is_ours(data: bytes, comment: str) -> bool:
    """Whether a file is as it was written here: its last line is the digest of the others."""
    body, _, _ = data.rstrip(b"\n").rpartition(b"\n")
    return data == _signed(body, comment)


def _there(path: Path) -> bytes | None:
    try:
        return path.read_bytes() if path.is_file() else None
    except OSError as error:
        raise _refusal(path, error) from None


def _free_name(path: Path) -> Path:
    names = (path.with_name(f"{path.name}.before{number or ''}") for number in count(0))
    return next(each for each in names if not each.exists())


def _first_there(path: Path) -> Path:
    return next(parent for parent in path.absolute().parents if parent.is_dir())


def make_folder(path: Path) -> None:
    """Make a folder and its parents, and sweep out what a killed process has left there.

    Raises `OutputError` where that is refused.
    """
    _check_name(path)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        told = isinstance(error, FileNotFoundError) and _first_there(path)
        reason = f"the system takes none in {told}" if told else error.strerror or error
        raise OutputError(path, f"the folder cannot be made ({reason})", _ELSEWHERE) from None
    _sweep(path)


def new_folder(parent: Path) -> Path:
    """A folder that nobody else has, called by the next number in `parent`, which is made if it is not there.

    Raises `OutputError` where that is refused.
    """
    make_folder(parent)
    numbers = count(1)
    while True:
        path = parent / str(next(numbers))
        try:
            path.mkdir()
        except FileExistsError:
            continue
        except OSError as error:
            raise OutputError(path, f"the folder cannot be made ({error.strerror or error})", _ELSEWHERE) from None
        return path


@lru_cache(maxsize=1)
def _sweep(folder: Path) -> None:
    """Once a run, or for each of many folders as they come: take away what a killed process has left there."""
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith(PASSING) and entry.is_file(follow_symlinks=False):
                with suppress(OSError):
                    if time.time() - entry.stat().st_mtime > SWEEP_AFTER_S:
                        Path(entry).unlink()
