"""Stems placed in a track, added up a stretch of some seconds at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Self

from appui.sound.audio import Stem

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Placed", "Reader", "mixed", "windows"]

_FRAME_BYTES = 8  # two float32
CHUNK = 1 << 17  # three seconds: fewer, larger steps leave the cores to numpy


@dataclass(frozen=True, slots=True)
class Placed:
    """A stem in a track: from which frame, at which gains."""

    stem: Stem
    frame: int
    gains: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch of a track, in frames, and what sounds in it."""

    start: int
    stop: int
    sounding: tuple[Placed, ...]

    @property
    def frames(self) -> int:
        """Its length."""
        return self.stop - self.start

    @property
    def content(self) -> object:
        """What is heard: equal where two stretches hold the same samples."""
        heard = [(each.stem.file.name, each.frame - self.start, each.gains) for each in self.sounding]
        return self.frames, tuple(heard)


def windows(placed: Sequence[Placed], spans: Iterable[tuple[int, int]]) -> Iterator[Window]:
    """Spans of frames, in time order, cut small, with the stems that sound in each; `placed` in time order too."""
    waiting, sounding = list(reversed(placed)), list[Placed]()
    for first, last in spans:
        for start in range(first, last, CHUNK):
            stop = min(start + CHUNK, last)
            while waiting and waiting[-1].frame < stop:
                sounding.append(waiting.pop())
            sounding = [each for each in sounding if each.frame + each.stem.frames > start]
            yield Window(start, stop, tuple(sounding))


def mixed(placed: Sequence[Placed], spans: Iterable[tuple[int, int]]) -> Iterator[NDArray[np.float32]]:
    """Stems placed in time order, added up block by block over spans of frames in time order."""
    with Reader() as reader:
        for window in windows(placed, spans):
            yield reader.mixed(window)


class Reader:
    """Reads from stems, each opened once."""

    def __init__(self) -> None:
        self.opened = ExitStack()
        self.streams: dict[Path, BinaryIO] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *raised: object) -> None:
        self.opened.close()

    def mixed(self, window: Window) -> NDArray[np.float32]:
        """The samples of a window, all its stems added up."""
        import numpy as np

        block = np.zeros((window.frames, 2), np.float32)
        for each in window.sounding:
            first, last = max(each.frame, window.start), min(each.frame + each.stem.frames, window.stop)
            block[first - window.start : last - window.start] += self.samples(each, first, last)
        return block

    def samples(self, each: Placed, first: int, last: int) -> NDArray[np.float32]:
        """The samples of a placed stem from one frame of the track to another, with its gains."""
        import numpy as np

        stream = self.streams.get(each.stem.file)
        if stream is None:
            stream = self.streams[each.stem.file] = self.opened.enter_context(each.stem.file.open("rb"))
        stream.seek((first - each.frame) * _FRAME_BYTES)
        samples = np.frombuffer(stream.read((last - first) * _FRAME_BYTES), np.float32).reshape(-1, 2)
        return samples if each.gains == (1.0, 1.0) else samples * np.array(each.gains, np.float32)
