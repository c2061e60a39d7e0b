"""WAV files: 24-bit PCM in stereo, with tags, written as fast as the disk takes them.

RIFF: a ``fmt`` chunk, a ``LIST INFO`` chunk where there are tags (INAM title, IART artist, IPRD album, ICMT comment,
ITRK number; RIFF 1.0, memory; text as UTF-8, common practice), the ``data`` chunk. All sizes are known beforehand.

What has been written can be written once more from the file itself (`WavWriter.again`): rounds of a loop are the same
bytes. The format ends at 4 GiB (4 h 30 min at 44.1 kHz).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from appui.errors import SoundError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["INFO", "WavWriter", "wav_file", "whole_numbers"]

FULL_SCALE = 2**23
WAV_LIMIT = 2**32 - 1
FRAME_BYTES = 6
_PCM = 1
_COPY_BYTES = 1 << 20
# the tags there are, with the names of their chunks
INFO = {"title": b"INAM", "artist": b"IART", "album": b"IPRD", "comment": b"ICMT", "tracknumber": b"ITRK"}


class WavWriter:
    """Takes blocks of samples, full scale 1.0; call it with a block."""

    def __init__(self, stream: BinaryIO, head: int) -> None:
        self.stream, self.head = stream, head

    def __call__(self, block: NDArray[np.float32]) -> None:
        """Write the next samples."""
        self.stream.write(_three_bytes(whole_numbers(block)).data)

    def again(self, start: int, frames: int) -> None:
        """Write so many frames from frame `start` of the file once more."""
        end = self.stream.seek(0, 2)
        first, left = self.head + start * FRAME_BYTES, frames * FRAME_BYTES
        while left > 0:
            self.stream.seek(first)
            piece = self.stream.read(min(left, _COPY_BYTES))
            self.stream.seek(end)
            self.stream.write(piece)
            first, end, left = first + len(piece), end + len(piece), left - len(piece)


@contextmanager
def wav_file(
    temporary: Path, path: Path, rate: int, frames: int, tags: Mapping[str, str] | None = None
) -> Iterator[WavWriter]:
    """Open a file of so many frames; `path` stands in the error, `SoundError` where it would be too long."""
    data = frames * FRAME_BYTES
    info = _info(tags or {})
    form = struct.pack("<2H2I2H", _PCM, 2, rate, rate * FRAME_BYTES, FRAME_BYTES, 24)
    head = _chunk(b"fmt ", form) + info
    size = 4 + len(head) + 8 + data
    if size > WAV_LIMIT:
        raise SoundError(path, f"{frames / rate / 3600:.1f} hours are more than a WAV file holds", "name a .flac file")
    with temporary.open("w+b") as stream:
        begun = b"RIFF" + struct.pack("<I", size) + b"WAVE" + head + b"data" + struct.pack("<I", data)
        stream.write(begun)
        yield WavWriter(stream, len(begun))


def _info(tags: Mapping[str, str]) -> bytes:
    texts = b"".join(_chunk(INFO[name], text.encode() + b"\0") for name, text in tags.items() if text)
    return _chunk(b"LIST", b"INFO" + texts) if texts else b""


def _chunk(kind: bytes, data: bytes) -> bytes:
    return kind + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)


def whole_numbers(block: NDArray[np.float32]) -> NDArray[np.int32]:
    """Samples as 24-bit whole numbers, rounded."""
    import numpy as np

    scaled = block * np.float32(FULL_SCALE)
    np.rint(scaled, out=scaled)
    np.clip(scaled, -FULL_SCALE, FULL_SCALE - 1, out=scaled)
    return scaled.astype("<i4")


def _three_bytes(numbers: NDArray[np.int32]) -> NDArray[np.uint8]:
    """The low three bytes of each number, least first."""
    import numpy as np

    four = numbers.reshape(-1).view(np.uint8)
    packed = np.empty(four.size // 4 * 3, np.uint8)
    for place in range(3):
        packed[place::3] = four[place::4]
    return packed
