"""Loudness and true peak of what is heard, block by block, memory flat at any length.

Loudness is the integrated loudness of ITU-R BS.1770 (read, in several implementations quoting it): K-weighted, in
blocks of 400 ms that overlap by three quarters, gated at -70 LUFS and then 10 LU below the mean of what is left. The
weighting filters are pyloudnorm's. Both channels of a stereo signal count fully.

True peak is the peak of the signal at four times its rate (BS.1770, annex 2, memory), by scipy's polyphase filter.
Departure, for speed: only stretches whose samples come within 9 dB of the highest sample so far are looked at between
the samples; a stretch below that would need overshoots of 9 dB to matter.

A clip shorter than 400 ms has no block; it is measured as if silence followed it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["TARGET_LUFS", "TRUE_PEAK_DBTP", "Loudness", "gain_for", "measure"]

TARGET_LUFS = -23.0  # EBU R 128 (read)
TRUE_PEAK_DBTP = -1.0  # EBU R 128 (read)
OFFSET_LU = -0.691
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
HOPS_A_SECOND = 10
HOPS_A_BLOCK = 4
OVERSAMPLING = 4
_NEAR_PEAK = 10 ** (-9 / 20)
_STRETCH = 4096
_MARGIN = 64  # frames on both sides of a stretch, longer than the filter reaches


@dataclass(frozen=True, slots=True)
class Loudness:
    """Integrated loudness in LUFS and true peak in dBTP; both `-inf` for silence."""

    lufs: float
    peak_dbtp: float


@dataclass(slots=True)
class _Meter:
    """Collects blocks of samples, shape (frames, channels)."""

    rate: int
    energies: list[float] = field(default_factory=list)  # mean square of each tenth of a second
    peak: float = 0.0
    _state: Any = None
    _left: Any = None
    _edge: Any = None

    def add(self, block: NDArray[np.float32]) -> None:
        """Take in the next samples."""
        if len(block):
            self._weigh(block)
            self._look(block)

    def _weigh(self, block: NDArray[np.float32]) -> None:
        import numpy as np
        from scipy.signal import sosfilt

        filters = _weighting(self.rate)
        # channel by channel in a row: four times as fast
        rows = np.ascontiguousarray(block.T, dtype=np.float64)
        if self._state is None:
            self._state = np.zeros((len(filters), len(rows), 2))
        weighed, self._state = sosfilt(filters, rows, axis=1, zi=self._state)
        power = np.einsum("ij,ij->j", weighed, weighed)
        if self._left is not None:
            power = np.concatenate([self._left, power])
        hop = round(self.rate / HOPS_A_SECOND)
        whole = len(power) // hop * hop
        self.energies += power[:whole].reshape(-1, hop).mean(axis=1).tolist()
        self._left = power[whole:]

    def _look(self, block: NDArray[np.float32]) -> None:
        """Look at the samples and between them, but for the last `_MARGIN` frames, which need what follows."""
        import numpy as np

        before = np.zeros((2 * _MARGIN, block.shape[1]), block.dtype) if self._edge is None else self._edge
        joined = np.concatenate([before, block])
        self._edge = joined[-2 * _MARGIN :].copy()
        levels = np.abs(joined).max(axis=1)
        self.peak = max(self.peak, float(levels.max()))
        for start in range(_MARGIN, len(joined) - _MARGIN, _STRETCH):
            stop = min(start + _STRETCH, len(joined) - _MARGIN)
            if levels[start - _MARGIN : stop + _MARGIN].max() > self.peak * _NEAR_PEAK:
                self.peak = max(self.peak, _between_samples(joined[start - _MARGIN : stop + _MARGIN]))

    def done(self) -> Loudness:
        """What was measured."""
        if self._edge is not None:
            self._look(0 * self._edge[:_MARGIN])
        hop = round(self.rate / HOPS_A_SECOND)
        energies = [*self.energies]
        if len(energies) < HOPS_A_BLOCK and self._left is not None:
            energies.append(float(self._left.sum()) / hop)
            energies += [0.0] * (HOPS_A_BLOCK - len(energies))
        return Loudness(_integrated(energies), 20 * math.log10(self.peak) if self.peak > 0 else -math.inf)


def measure(blocks: Iterable[NDArray[np.float32]], rate: int) -> Loudness:
    """The loudness and true peak of samples in blocks, shape (frames, channels), full scale 1.0, at `rate` Hz."""
    meter = _Meter(rate)
    for block in blocks:
        meter.add(block)
    return meter.done()


def gain_for(
    measured: Iterable[Loudness], *, target_lufs: float = TARGET_LUFS, peak_dbtp: float = TRUE_PEAK_DBTP
) -> float:
    """One gain in dB for all tracks of a set: the loudest comes to the target, no true peak above the ceiling.

    0 where all are silent.
    """
    heard = [each for each in measured if each.peak_dbtp > -120]
    if not heard:
        return 0.0
    room_db = peak_dbtp - max(each.peak_dbtp for each in heard)
    loudest = max(each.lufs for each in heard)
    return min(target_lufs - loudest, room_db) if loudest > -math.inf else room_db


@cache
def _weighting(rate: int) -> Any:
    import numpy as np
    from pyloudnorm.iirfilter import IIRfilter

    #  BS.1770, annex 1: a shelf for the head, a high pass
    shelf = IIRfilter(4.0, 1 / math.sqrt(2), 1500.0, rate, "high_shelf")
    high_pass = IIRfilter(0.0, 0.5, 38.0, rate, "high_pass")
    return np.array([[*each.b, *each.a] for each in (shelf, high_pass)])


def _integrated(energies: list[float]) -> float:
    """Gated mean of the blocks made of these tenths of a second, in LUFS."""
    import numpy as np

    if len(energies) < HOPS_A_BLOCK:
        return -math.inf
    blocks = np.convolve(energies, np.full(HOPS_A_BLOCK, 1 / HOPS_A_BLOCK), "valid")
    kept = blocks[blocks > _energy(ABSOLUTE_GATE_LUFS)]
    if not len(kept):
        return -math.inf
    kept = kept[kept > kept.mean() * 10 ** (RELATIVE_GATE_LU / 10)]
    return OFFSET_LU + 10 * math.log10(kept.mean())


def _energy(lufs: float) -> float:
    return float(10 ** ((lufs - OFFSET_LU) / 10))


def _between_samples(stretch: NDArray[np.float32]) -> float:
    """The true peak of a stretch without its margins, where cutting it out rings."""
    from scipy.signal import resample_poly

    finer = resample_poly(stretch, OVERSAMPLING, 1, axis=0)
    cut = OVERSAMPLING * _MARGIN // 2
    return float(abs(finer[cut:-cut]).max(initial=0.0))
