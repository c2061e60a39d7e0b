"""The files a command was given: what it reads, and must therefore never write over.

While a command runs, whoever opens a file for it says so here, and whoever writes one asks first. A file is known by
what it is (device and number), not by its name, so that a link to the score is the score. Outside of a command nothing
is remembered: a program that uses the library may read again what it has written.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["give", "guarded", "identity", "was_given"]

_given: set[tuple[int, int]] | None = None


@contextmanager
def guarded() -> Iterator[None]:
    """Remember what is read until the block ends; within another such block, what that one knows too."""
    global _given  # noqa: PLW0603 - one command runs at a time, its threads share what it was given
    before, _given = _given, set(_given or ())
    try:
        yield
    finally:
        _given = before


def give(path: Path) -> None:
    """Remember a file that is read; one that is not there is nobody's."""
    if _given is not None and (known := identity(path)) is not None:
        _given.add(known)


def was_given(path: Path) -> bool:
    """Whether a file was read in this command, under whatever name."""
    return bool(_given) and identity(path) in (_given or ())


def identity(path: Path) -> tuple[int, int] | None:
    """What a file is, whatever it is called: its device and number; None where there is no such file."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino
