"""Audio files: WAV, FLAC, OGG (Vorbis) and MP3 by suffix, peaks at or below -1 dBFS, memory flat at any length.

Rendering passes through a scratch file in float: the peak is known only at the end, and several files that are compared with each other
share one gain. Nothing is ever clipped.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from appui.errors import OutputError, SoundError
from appui.perform.model import Performance
from appui.sound.files import whole_file
from appui.sound.soundfont import soundfont_path
from appui.sound.synth import CHUNK, RATE, render_blocks

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["FORMATS", "PEAK_DBFS", "Stem", "check_suffix", "common_gain_db", "render_audio", "render_stem", "write_stems"]

#        suffix   format, subtype
FORMATS = {
    ".wav": ("WAV", "PCM_24"), ".flac": ("FLAC", "PCM_24"), ".ogg": ("OGG", "VORBIS"), ".mp3": ("MP3", "MPEG_LAYER_III"),
}
PEAK_DBFS = -1.0
#  lossy coders ring a little above what they were given
LOSSY_HEADROOM_DB = 0.5
_LOSSY = frozenset({".ogg", ".mp3"})
#  libsndfile's Vorbis coder fails on large writes
WRITE_FRAMES = 4096


@dataclass(frozen=True, slots=True)
class Stem:
    """Rendered sound in a scratch file: float32 stereo, `frames` long, with its `peak` (linear)."""

    file: Path
    frames: int
    peak: float
    rate: int = RATE


def check_suffix(path: Path) -> None:
    """Raises `SoundError` for a file whose suffix is no audio format of ours."""
    if path.suffix.lower() not in FORMATS:
        raise SoundError(path, f"{path.suffix or 'no suffix'} is no audio format known here", f"end the name in one of {', '.join(FORMATS)}")


@contextmanager
def scratch() -> Iterator[Path]:
    """A folder for stems that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="appui-") as folder:
        yield Path(folder)


def render_stem(performance: Performance, file: Path, soundfont: Path | str | None = None, *, reverb: bool = True) -> Stem:
    """Render into a scratch file."""
    font = soundfont_path(soundfont)
    frames, peak = 0, 0.0
    try:
        with file.open("wb") as stream:
            for block in render_blocks(performance, font, reverb=reverb):
                frames += len(block)
                peak = max(peak, float(abs(block).max(initial=0.0)))
                stream.write(block.tobytes())
    except OSError as error:
        raise OutputError(file, f"the scratch file cannot be written ({error.strerror or error})", "free space there") from None
    return Stem(file, frames, peak)


def blocks_of(stems: Sequence[Stem]) -> Iterator[NDArray[np.float32]]:
    """Stems added up, block by block, as long as the longest."""
    import numpy as np

    streams = [stem.file.open("rb") for stem in stems]
    try:
        left = max(stem.frames for stem in stems)
        while left > 0:
            frames = min(left, CHUNK)
            mixed = np.zeros((frames, 2), np.float32)
            for stream in streams:
                part = np.frombuffer(stream.read(frames * 8), np.float32).reshape(-1, 2)
                mixed[: len(part)] += part
            yield mixed
            left -= frames
    finally:
        for stream in streams:
            stream.close()


def peak_of(stems: Sequence[Stem]) -> float:
    """The peak of stems added up, linear."""
    if len(stems) == 1:
        return stems[0].peak
    return max((float(abs(block).max(initial=0.0)) for block in blocks_of(stems)), default=0.0)


def common_gain_db(peaks: Iterable[float], *, lossy: bool = False) -> float:
    """The gain that brings the loudest of several peaks (linear) to -1 dBFS: one for all, so that nothing else differs."""
    loudest = max(peaks, default=0.0)
    target = PEAK_DBFS - (LOSSY_HEADROOM_DB if lossy else 0.0)
    return target - 20 * math.log10(loudest) if loudest > 1e-6 else 0.0


def write_stems(stems: Sequence[Stem], path: Path, gain_db: float) -> None:
    """Write stems added up as one audio file, whole or not at all."""
    import soundfile

    check_suffix(path)
    kind, subtype = FORMATS[path.suffix.lower()]
    gain = 10 ** (gain_db / 20)
    with whole_file(path) as temporary:
        try:
            with soundfile.SoundFile(temporary, "w", stems[0].rate, 2, subtype, format=kind) as out:
                for block in blocks_of(stems):
                    for start in range(0, len(block), WRITE_FRAMES):
                        out.write(block[start : start + WRITE_FRAMES] * gain)
        except soundfile.LibsndfileError as error:
            raise OutputError(path, f"cannot be written ({error})", "free space there, or name another place") from None
    if kind == "OGG":
        _settle_serial(path)


def _settle_serial(path: Path) -> None:
    """Give the OGG stream a fixed serial number: libsndfile draws one by chance, and the same input must give the same bytes."""
    data = bytearray(path.read_bytes())
    at = 0
    while at + 27 <= len(data) and data[at : at + 4] == b"OggS":
        segments = data[at + 26]
        size = 27 + segments + sum(data[at + 27 : at + 27 + segments])
        data[at + 14 : at + 18] = (1).to_bytes(4, "little")
        data[at + 22 : at + 26] = bytes(4)
        data[at + 22 : at + 26] = _ogg_crc(bytes(data[at : at + size])).to_bytes(4, "little")
        at += size
    with whole_file(path) as temporary:
        temporary.write_bytes(data)


def _crc_table() -> tuple[int, ...]:
    table = []
    for index in range(256):
        value = index << 24
        for _ in range(8):
            value = (value << 1) ^ 0x04C11DB7 if value & 0x80000000 else value << 1
        table.append(value & 0xFFFFFFFF)
    return tuple(table)


_CRC = _crc_table()


def _ogg_crc(data: bytes) -> int:
    """CRC-32 of an OGG page (RFC 3533, from memory): polynomial 04C11DB7, not reflected, start and end 0."""
    crc = 0
    for byte in data:
        crc = ((crc << 8) & 0xFFFFFFFF) ^ _CRC[(crc >> 24) ^ byte]
    return crc


def render_audio(
    performance: Performance, path: Path, soundfont: Path | str | None = None, *, gain_db: float | None = None, reverb: bool = True,
) -> float:
    """Render one file; returns the gain used, dB. Without `gain_db` its own peak comes to -1 dBFS."""
    check_suffix(path)
    with scratch() as folder:
        stem = render_stem(performance, folder / "stem", soundfont, reverb=reverb)
        gain = common_gain_db([stem.peak], lossy=path.suffix.lower() in _LOSSY) if gain_db is None else gain_db
        write_stems([stem], path, gain)
    return gain
