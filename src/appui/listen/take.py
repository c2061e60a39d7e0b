"""A take: a sound file as one channel of samples at one rate, with its frames (`appui.listen.frames`).

`level_db` is of the whole frame, below full scale. Times are seconds from the beginning of the file.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.errors import SoundError
from appui.given import give
from appui.listen.frames import HOP, RATE, rise_of, spectrum_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]
    AnySamples = NDArray[np.floating]
    Spectrum = NDArray[np.float16]

__all__ = ["Take", "levels", "load", "take_of"]

#  longer than most movements of a solo; a take stays under 400 MB of memory
LONGEST_S = 14 * 60
SHORTEST_S = 0.5
SILENT_DB = -70.0
_BLOCK_S = 10
RATES, MOST_CHANNELS = (8_000, 192_000), 8
_LOUDEST = 8.0
_SUFFIXES = ".wav, .flac, .ogg or .mp3"


@dataclass(frozen=True, slots=True)
class Take:
    """A take: its samples, what each frame sounds (`spectrum`, `level_db`), how far notes begin in it (`rise`).

    `rise` is how much comes up at the beginning of a frame, 1 for a note clearly struck. `a4_hz` is the tuning heard,
    `noise_db` the level where nothing is played.
    """

    samples: AnySamples
    spectrum: Spectrum
    level_db: NDArray[np.float64]
    rise: NDArray[np.float64]
    a4_hz: float
    noise_db: float

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return len(self.samples) / RATE


def load(path: Path) -> Samples:
    """The samples of a file, mixed to one channel at `RATE`; raises `SoundError` for what is no take."""
    import numpy as np
    import soundfile

    give(path)
    if not path.is_file():
        raise SoundError(path, "is no sound file that is there", "check the path")
    try:
        with soundfile.SoundFile(path) as sound:
            _check(path, sound)
            blocks = sound.blocks(sound.samplerate * _BLOCK_S, dtype="float32", always_2d=True)
            mono = (block.mean(axis=1, dtype=np.float32) for block in blocks)
            samples, filled = np.zeros(-(-sound.frames * RATE // sound.samplerate), np.float32), 0
            for part in _at_rate(mono, sound.samplerate):
                samples[filled : filled + len(part)] = part[: len(samples) - filled]
                filled += len(part)
            return samples
    except soundfile.LibsndfileError as error:
        raise SoundError(path, f"cannot be read as sound ({error})", f"give a take as {_SUFFIXES}") from None


def _check(path: Path, sound: Any) -> None:
    """Raises `SoundError` for what cannot be a take, before it is read."""
    if not RATES[0] <= sound.samplerate <= RATES[1] or sound.channels > MOST_CHANNELS:
        what = f"has {sound.channels} channels at {sound.samplerate} Hz"
        raise SoundError(path, what, f"give at most {MOST_CHANNELS} channels, at {RATES[0]} to {RATES[1]} Hz")
    length_s = sound.frames / sound.samplerate
    if length_s < SHORTEST_S:
        raise SoundError(path, f"lasts {length_s:.2f} s, too short to hear anything in", "record a bar at least")
    if length_s > LONGEST_S:
        raise SoundError(
            path, f"lasts {length_s / 60:.0f} minutes, more than {LONGEST_S // 60}", "cut it into movements or passages"
        )


def _at_rate(blocks: Iterable[Samples], rate: int) -> Iterator[Samples]:
    """Blocks of whole seconds at another rate, each with a second of its neighbours around it, so that none is heard.

    What is no number counts as silence.
    """
    import numpy as np
    from scipy.signal import resample_poly

    ratio = Fraction(RATE, rate)
    before = np.zeros(rate, np.float32)
    for block, following in pairwise(chain(blocks, [np.zeros(rate, np.float32)])):
        sound = np.nan_to_num(np.clip(block, -_LOUDEST, _LOUDEST), nan=0.0)
        after = np.pad(following[:rate], (0, max(rate - len(following), 0)))
        around = np.concatenate([before, sound, after])
        wanted = -(-len(block) * RATE // rate)
        yield np.asarray(resample_poly(around, ratio.numerator, ratio.denominator), np.float32)[RATE : RATE + wanted]
        before = sound[-rate:] if len(sound) >= rate else np.pad(sound, (rate - len(sound), 0))


def take_of(samples: AnySamples, file: object, a4_hz: float = 440.0) -> Take:
    """What is heard in samples at `RATE`; `a4_hz` is about where it is tuned.

    Raises `SoundError` where there is nothing to be heard.
    """
    import numpy as np

    level_db = levels(samples)
    if not len(level_db) or float(np.quantile(level_db, 0.95)) < SILENT_DB:
        raise SoundError(file, "is silent", "check the microphone and its level, and record again")
    tuned_hz = _tuning(samples, level_db, a4_hz)
    spectrum, flux = spectrum_of(samples, tuned_hz)
    noise_db = float(np.quantile(level_db, 0.02))
    return Take(samples, spectrum, level_db, rise_of(flux), tuned_hz, noise_db)


def levels(samples: AnySamples) -> NDArray[np.float64]:
    """The level of every frame in dB, over 12 ms."""
    import numpy as np

    whole = samples[: len(samples) // HOP * HOP].reshape(-1, HOP)
    # summed row by row: a copy of a quarter of an hour in double precision would be larger than all the rest
    energies = np.einsum("ij,ij->i", whole, whole, dtype=np.float32).astype(np.float64)
    power = (np.concatenate([[0.0], energies]) + np.concatenate([energies, [0.0]]))[: -(-len(samples) // HOP)]
    return np.asarray(10 * np.log10(power / (2 * HOP) + 1e-12))


def _tuning(samples: AnySamples, level_db: NDArray[np.float64], a4_hz: float) -> float:
    """Where A4 is, within half a semitone of `a4_hz`: by the strongest partials' distances from their keys."""
    import numpy as np

    size = 4096
    loud = np.flatnonzero(level_db > np.quantile(level_db, 0.5))
    picked = loud[:: max(len(loud) // 300, 1)] * HOP
    inside = [samples[at : at + size] for at in picked if at + size <= len(samples)] or [np.resize(samples, size)]
    frames = np.stack(inside) * np.hanning(size).astype(np.float32)
    found = np.abs(np.fft.rfft(frames))
    found[:, : round(180 * size / RATE)] = 0
    found[:, round(2500 * size / RATE) :] = 0
    peak = found.argmax(axis=1)
    rows = np.arange(len(peak))
    before, top, after = (np.log(found[rows, peak + step] + 1e-9) for step in (-1, 0, 1))
    offset = np.clip((before - after) / (2 * (before - 2 * top + after) - 1e-12), -0.5, 0.5)
    keys = 12 * np.log2((peak + offset) * RATE / size / a4_hz)
    turned = np.exp(2j * np.pi * keys).mean()
    return a4_hz * 2 ** (float(np.angle(turned)) / (2 * math.pi) / 12)
