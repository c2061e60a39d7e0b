"""The frames of a take as spectra, in steps of 5.8 ms, and how much comes up at the beginning of each.

Conventions: samples full scale 1.0, at `RATE` Hz, in single precision or half. A spectrum has a row a frame, `HOP`
samples apart, centred on its moment, and a column a third of a semitone (`BINS_A_SEMITONE`), from `LOWEST_KEY` on; its
columns add up to 1.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.floating]
    Matrix = NDArray[np.float32]
    Spectrum = NDArray[np.float16]

__all__ = ["BINS", "BINS_A_SEMITONE", "FRAME_S", "HOP", "LOWEST_KEY", "RATE", "magnitudes", "rise_of", "spectrum_of"]

RATE = 22_050
HOP = 128
FRAME_S = HOP / RATE
WINDOW = 1024
LOWEST_KEY, HIGHEST_KEY = 45, 117
BINS_A_SEMITONE = 3
BINS = BINS_A_SEMITONE * (HIGHEST_KEY - LOWEST_KEY)
#  how sounds that are over are told: frames back, fall a frame (nepers; 46 dB a second), the share taken, the rest left
_BACK, _FALL, _SHARE, _REST = 5, 0.031, 0.75, 0.05


def spectrum_of(samples: Samples, a4_hz: float) -> tuple[Spectrum, NDArray[np.float64]]:
    """The spectrum, rows adding up to 1, and how much each frame brings that the one 17 ms before had not."""
    import numpy as np

    count, bins = -(-len(samples) // HOP), _bands(a4_hz).shape[1]
    # half precision: a quarter of an hour is then 70 MB
    spectrum = np.zeros((count, bins), np.float16)
    flux = np.zeros(count)
    loudest, earlier, block, dying = 1e-6, None, 2048, _Dying(bins)
    for start in range(0, count, block):
        rows = magnitudes(samples, start, min(start + block, count), a4_hz)
        loudest = max(loudest, float(rows.max(initial=0.0)))
        heard = np.log1p(1000 * rows / loudest)
        lagged = np.concatenate([heard[:3] if earlier is None else earlier, heard[:-3]])[: len(heard)]
        flux[start : start + len(rows)] = np.maximum(heard - lagged, 0).sum(axis=1)
        earlier = heard[-3:]
        fresh = dying.taken_from(rows)
        spectrum[start : start + len(rows)] = fresh / (fresh.sum(axis=1, keepdims=True) + 1e-9)
    return spectrum, flux


def magnitudes(samples: Samples, first: int, last: int, a4_hz: float) -> Matrix:
    """The frames from `first` until before `last`, a row each, as loud as they are, with what rings in them."""
    import numpy as np
    from scipy.fft import rfft

    window = np.hanning(WINDOW).astype(np.float32)
    frames = np.abs(rfft(_windows(samples, first, last) * window))
    return np.asarray(frames @ _bands(a4_hz))


def _windows(samples: Samples, first: int, last: int) -> Samples:
    """The samples around some frames, a row each, silence beyond the ends."""
    import numpy as np

    start, stop = first * HOP - WINDOW // 2, (last - 1) * HOP + WINDOW // 2
    part = samples[max(start, 0) : stop]
    part = np.pad(part, (max(-start, 0), max(stop - max(start, 0) - len(part), 0)))
    return np.lib.stride_tricks.sliding_window_view(part, WINDOW)[::HOP]


class _Dying:
    """What rings on from notes that are over: what was there `_BACK` frames ago and before, falling by `_FALL` a frame.

    It is taken from each frame but for a rest; a held note loses the same of all its partials, and keeps its shape.
    """

    def __init__(self, bins: int) -> None:
        import numpy as np

        self.held = np.zeros((_BACK, bins), np.float32)
        self.carried = np.full(bins, -40.0, np.float32)

    def taken_from(self, rows: Matrix) -> Matrix:
        import numpy as np

        past = np.concatenate([self.held, rows])[: len(rows)]
        self.held = np.concatenate([self.held, rows])[-_BACK:]
        falling = (np.arange(1, len(rows) + 1, dtype=np.float32) * _FALL)[:, np.newaxis]
        logs = np.log(past + 1e-9) + falling
        logs[0] = np.maximum(logs[0], self.carried)
        np.maximum.accumulate(logs, axis=0, out=logs)
        logs -= falling
        self.carried = logs[-1]
        return np.asarray(np.maximum(rows - _SHARE * np.exp(logs), _REST * rows))


@lru_cache(maxsize=4)
def _bands(a4_hz: float) -> Matrix:
    """How much of every bin of the transform goes to every third of a semitone: triangles, wide enough for a bin."""
    import numpy as np

    hertz = np.fft.rfftfreq(WINDOW, 1 / RATE)[:, np.newaxis]
    keys = np.arange(LOWEST_KEY, HIGHEST_KEY, 1 / BINS_A_SEMITONE)[np.newaxis]
    centres = a4_hz * 2 ** ((keys - 69) / 12)
    wide = np.maximum(centres * (2 ** (0.5 / 12) - 1), RATE / WINDOW)
    return np.maximum(1 - np.abs(hertz - centres) / wide, 0).astype(np.float32)


def rise_of(flux: NDArray[np.float64]) -> NDArray[np.float64]:
    """The flux against that of a note clearly struck: 1 there, 0 where nothing begins."""
    import numpy as np

    high = float(np.quantile(flux, 0.97))
    low = float(np.median(flux))
    return np.clip((flux - low) / max(high - low, 1e-9), 0, 2)
