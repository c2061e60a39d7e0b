"""The files a command was given: what it reads, and must therefore never write over.

While a command runs, whoever opens a file for it says so here, and whoever writes one asks first. A file is known by
what it is (device and number), not by its name, so that a link to the score is the score. Outside of a command nothing
is remembered: a program that uses the library may read again what it has written.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["give", "guarded", "was_given"]

_Known = tuple[int, int]
_given: set[_Known] | None = None


@contextmanager
def guarded() -> Iterator[None]:
    """Remember what is read until the block ends."""
    global _given  # noqa: PLW0603 - one command runs at a time, its threads share what it was given
    before, _given = _given, set()
    try:
        yield
    finally:
        _given = before


def give(path: Path) -> None:
    """Remember a file that is read; one that is not there is nobody's."""
    if _given is not None and (known := _known(path)) is not None:
        _given.add(known)


def was_given(path: Path) -> bool:
    """Whether a file was read in this command, under whatever name."""
    return bool(_given) and _known(path) in (_given or ())


def _known(path: Path) -> _Known | None:
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino
