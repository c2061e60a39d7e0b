"""Output that appears whole or not at all.

A file is written beside its place under a passing name, flushed to the disk, then renamed over what was there. Whatever goes wrong on the
way, an existing file is untouched and nothing half-written is left.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from appui.errors import OutputError

__all__ = ["make_folder", "whole_file", "write_whole"]


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A passing file to write to, which takes the place of `path` when the block ends without an error.

    Raises `OutputError` naming the file and the cause where the system refuses.
    """
    path = Path(path)
    if path.is_dir():
        raise OutputError(path, "is a folder", "give the name of a file")
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=path.suffix, dir=path.parent)
        os.close(handle)
        temporary = Path(name)
        yield temporary
        _settle(temporary, path)
    except OSError as error:
        raise _refusal(path, error) from None
    finally:
        if temporary is not None:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)


def _settle(temporary: Path, path: Path) -> None:
    with temporary.open("rb") as stream:
        os.fsync(stream.fileno())
    # mkstemp makes files only their owner can read; an output is an ordinary file
    mask = os.umask(0)
    os.umask(mask)
    temporary.chmod(0o666 & ~mask)
    temporary.replace(path)


def _refusal(path: Path, error: OSError) -> OutputError:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return OutputError(path, f"its folder {path.parent} does not exist", "make the folder or name another")
    return OutputError(path, f"cannot be written ({error.strerror or error})", "free space there, or name another place")


def write_whole(path: Path, data: bytes) -> None:
    """Write a whole file at once."""
    with whole_file(path) as temporary:
        temporary.write_bytes(data)


def make_folder(path: Path) -> None:
    """Make a folder and its parents; raises `OutputError` where that is refused."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(path, f"the folder cannot be made ({error.strerror or error})", "name another place") from None
