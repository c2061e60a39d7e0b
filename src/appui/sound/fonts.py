"""SoundFonts read once and lent out: as many copies as are in use at a time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Self

from appui.sound.synth import Font

__all__ = ["Fonts"]


class Fonts:
    """As many copies of a SoundFont as are needed at a time, each read once; all are closed at the end."""

    def __init__(self, soundfont: Path | str | None) -> None:
        self.soundfont = soundfont
        self.free: SimpleQueue[Font] = SimpleQueue()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *raised: object) -> None:
        while not self.free.empty():
            self.free.get().close()

    @contextmanager
    def one(self) -> Iterator[Font]:
        """A copy for nobody else meanwhile."""
        try:
            font = self.free.get_nowait()
        except Empty:
            font = Font(self.soundfont)
        try:
            yield font
        finally:
            self.free.put(font)
