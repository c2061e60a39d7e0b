"""Performances as audio files, peaks at or below -1 dBFS, memory flat at any length, nothing ever clipped.

Rendering passes through a scratch file in float, a *stem*: the peak is known only at the end, stems can be added up
(an accompaniment and each of several solos), and files that are compared with each other share one gain.

Lossy coders ring above what they are given, so for OGG and MP3 the samples given to the coder stay at or below
-2 dBFS; what comes out again is measured in the tests.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from appui.cache import fetch_file, keep_file
from appui.errors import OutputError, SoundError
from appui.perform.model import Performance
from appui.scratch import scratch
from appui.sound.files import whole_file
from appui.sound.formats import FORMATS, LOSSY, check_suffix, sound_file
from appui.sound.sections import FRAME_BYTES, render_file
from appui.sound.soundfont import PERCUSSION_BANK, programs, soundfont_path
from appui.sound.synth import CHUNK, RATE, Font, stem_key

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "AudioReport",
    "FORMATS",
    "LOSSY_HEADROOM_DB",
    "PEAK_DBFS",
    "Stem",
    "blocks_of",
    "check_suffix",
    "common_gain_db",
    "missing_programs",
    "peak_of",
    "render_audio",
    "render_stem",
    "write_stems",
]

PEAK_DBFS = -1.0
LOSSY_HEADROOM_DB = 1.0
#  what stands after the samples of a stem: frames, peak
_TRAILER, _MAGIC = struct.Struct("<6sQd"), b"appui1"
_SILENT = 1e-6  # -120 dBFS: nothing to bring up


@dataclass(frozen=True, slots=True)
class Stem:
    """Rendered sound in a scratch file: float32 stereo, `frames` long at `rate` Hz, with its `peak` (linear)."""

    file: Path
    frames: int
    peak: float
    rate: int = RATE


@dataclass(frozen=True, slots=True)
class AudioReport:
    """What was written: the gain used, the peak of the samples after it (`-inf` for silence), the length."""

    path: Path
    gain_db: float
    peak_dbfs: float
    frames: int
    sample_rate: int

    @property
    def length_s(self) -> float:
        """The length with the ringing after the last note, in seconds."""
        return self.frames / self.sample_rate


def render_audio(
    performance: Performance,
    path: Path,
    soundfont: Path | str | None = None,
    *,
    gain_db: float | None = None,
    sample_rate: int = RATE,
    reverb: bool = True,
) -> AudioReport:
    """Render one file, its format by suffix. Without `gain_db` its own peak comes to -1 dBFS.

    Raises `SoundError` for a format, SoundFont, rate or gain that cannot be used, `OutputError` for a file that cannot
    be written.
    """
    check_suffix(path)
    with scratch() as folder:
        stem = render_stem(performance, folder / "stem", soundfont, sample_rate=sample_rate, reverb=reverb)
        own_db = common_gain_db([stem.peak], lossy=path.suffix.lower() in LOSSY)
        return write_stems([stem], path, own_db if gain_db is None else gain_db)


def render_stem(
    performance: Performance,
    file: Path,
    soundfont: Path | str | Font | None = None,
    *,
    sample_rate: int = RATE,
    reverb: bool = True,
) -> Stem:
    """Render into a scratch file that is not there yet, or take the same sound from the cache."""
    key = stem_key(performance, soundfont, sample_rate, reverb=reverb)
    if key is not None and (kept := _kept(file, key, sample_rate)) is not None:
        return kept
    try:
        frames, peak = render_file(file, performance, soundfont, sample_rate=sample_rate, reverb=reverb)
        with file.open("ab") as stream:
            stream.write(_TRAILER.pack(_MAGIC, frames, peak))
    except OSError as error:
        raise OutputError(
            file, f"the scratch file cannot be written ({error.strerror or error})", "free space there"
        ) from None
    if key is not None:
        keep_file("stems", key, file)
    return Stem(file, frames, peak, sample_rate)


def _kept(file: Path, key: str, rate: int) -> Stem | None:
    """The stem of an earlier run; `None` where there is none, or not the whole of it."""
    if not fetch_file("stems", key, file):
        return None
    size = file.stat().st_size - _TRAILER.size
    if size >= 0:
        with file.open("rb") as stream:
            stream.seek(size)
            magic, frames, peak = _TRAILER.unpack(stream.read())
        if magic == _MAGIC and frames * FRAME_BYTES == size:
            return Stem(file, frames, peak, rate)
    file.unlink()
    return None


def blocks_of(stems: Sequence[Stem]) -> Iterator[NDArray[np.float32]]:
    """Stems added up, block by block, as long as the longest."""
    import numpy as np

    with ExitStack() as opened:
        streams = [opened.enter_context(stem.file.open("rb")) for stem in stems]
        left = max(stem.frames for stem in stems)
        while left > 0:
            frames = min(left, CHUNK)
            mixed = np.zeros((frames, 2), np.float32)
            for stream in streams:
                part = np.frombuffer(stream.read(frames * FRAME_BYTES), np.float32).reshape(-1, 2)
                mixed[: len(part)] += part
            yield mixed
            left -= frames


def peak_of(stems: Sequence[Stem]) -> float:
    """The peak of stems added up, linear."""
    if len(stems) == 1:
        return stems[0].peak
    return max((float(abs(block).max(initial=0.0)) for block in blocks_of(stems)), default=0.0)


def common_gain_db(peaks: Iterable[float], *, lossy: bool = False) -> float:
    """The gain that brings the loudest of several peaks (linear) to -1 dBFS, -2 for lossy formats.

    One for all files that are compared, so that nothing else differs; 0 where all are silent.
    """
    loudest = max(peaks, default=0.0)
    return _ceiling_dbfs(lossy=lossy) - _db(loudest) if loudest > _SILENT else 0.0


def write_stems(stems: Sequence[Stem], path: Path, gain_db: float) -> AudioReport:
    """Write stems added up as one audio file, whole or not at all.

    Raises `SoundError` where this gain would bring the peak above -1 dBFS (-2 for lossy formats): nothing is clipped.
    """
    import numpy as np

    frames, rate = max(stem.frames for stem in stems), stems[0].rate
    gain, peak = np.float32(10 ** (gain_db / 20)), 0.0
    with whole_file(path) as temporary, sound_file(temporary, path, rate, frames) as put:
        for mixed in blocks_of(stems):
            block = mixed * gain
            peak = max(peak, float(abs(block).max(initial=0.0)))
            put(block)
        _check_peak(path, gain_db, _db(peak))
    return AudioReport(path, gain_db, _db(peak), frames, rate)


def missing_programs(performance: Performance, soundfont: Path | str | None = None) -> tuple[str, ...]:
    """The names of the parts whose program the SoundFont lacks; FluidSynth plays another in its place."""
    there = programs(soundfont_path(soundfont))
    return tuple(
        part.name
        for part in performance.parts
        if (PERCUSSION_BANK if part.percussion else 0, part.program) not in there
    )


def _check_peak(path: Path, gain_db: float, peak_dbfs: float) -> None:
    ceiling = _ceiling_dbfs(lossy=path.suffix.lower() in LOSSY)
    # the gain is rounded to single precision
    if peak_dbfs > ceiling + 1e-4:
        raise SoundError(
            path,
            f"a gain of {gain_db:.2f} dB brings the peak to {peak_dbfs:.2f} dBFS, above {ceiling:.0f}",
            f"take at most {gain_db + ceiling - peak_dbfs:.2f} dB",
        )


def _ceiling_dbfs(*, lossy: bool) -> float:
    return PEAK_DBFS - (LOSSY_HEADROOM_DB if lossy else 0.0)


def _db(level: float) -> float:
    return 20 * math.log10(level) if level > _SILENT else -math.inf
