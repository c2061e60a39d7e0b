"""Keys of a terminal, each told at once, while something sounds."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["keyboard"]


@contextmanager
def keyboard() -> Iterator[Callable[[], str | None]]:
    """A function that gives the key pressed since it was last asked; without a terminal none ever is."""
    if not sys.stdin.isatty():
        yield lambda: None
        return
    try:
        import termios
        import tty
    except ImportError:
        yield _windows_key
        return
    file = sys.stdin.fileno()
    before = termios.tcgetattr(file)
    try:
        tty.setcbreak(file)
        yield _unix_key
    finally:
        termios.tcsetattr(file, termios.TCSADRAIN, before)


def _unix_key() -> str | None:
    import select

    return sys.stdin.read(1) if select.select([sys.stdin], [], [], 0)[0] else None


def _windows_key() -> str | None:
    import importlib

    keyboard = importlib.import_module("msvcrt")
    return str(keyboard.getwch()) if keyboard.kbhit() else None
