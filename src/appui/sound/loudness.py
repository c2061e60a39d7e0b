"""Loudness and true peak of what is heard, block by block, memory flat at any length.

Loudness is the integrated loudness of ITU-R BS.1770 (read, in several implementations quoting it): K-weighted, in
blocks of 400 ms that overlap by three quarters, gated at -70 LUFS and then 10 LU below the mean of what is left. Both
channels of a stereo signal count fully.

True peak is the peak of the signal at four times its rate (BS.1770, annex 2, memory), made finer through its spectrum.
Departure, for speed: only the 64 loudest stretches of 512 frames are looked at between the samples, and of these only
those within 6 dB of the highest sample; another would need to rise so much more between samples than they do.

A clip shorter than 400 ms has no block; it is measured as if silence followed it.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from appui.sound.weighting import BLOCK, Weighting

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["TARGET_LUFS", "TRUE_PEAK_DBTP", "Again", "Loudness", "gain_for", "measure"]

TARGET_LUFS = -23.0  # EBU R 128 (read)
TRUE_PEAK_DBTP = -1.0  # EBU R 128 (read)
OFFSET_LU = -0.691
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
HOPS_A_SECOND = 10
HOPS_A_BLOCK = 4
OVERSAMPLING = 4
_NEAR_PEAK = 10 ** (-6 / 20)
_STRETCH = 512
_STRETCHES = 64
_MARGIN = 64  # frames on both sides of a stretch, faded, so that its ends do not ring into it


@dataclass(frozen=True, slots=True)
class Loudness:
    """Integrated loudness in LUFS and true peak in dBTP; both `-inf` for silence."""

    lufs: float
    peak_dbtp: float


class Again(NamedTuple):
    """The stretch from frame `start` to `stop` is heard `times` times more, right after itself."""

    start: int
    stop: int
    times: int


@dataclass(slots=True)
class _Meter:
    """Collects blocks of samples, shape (frames, channels)."""

    rate: int
    energies: list[float] = field(default_factory=list)  # mean square of each tenth of a second
    peak: float = 0.0
    _weighting: Weighting | None = None
    _waiting: Any = None  # samples that do not make a whole block of the weighting yet
    _left: Any = None  # powers that do not make a whole tenth of a second yet
    _edge: Any = None
    _loudest: list[tuple[float, int, Any]] = field(default_factory=list)
    _count: int = 0

    def add(self, block: NDArray[np.float32]) -> None:
        """Take in the next samples."""
        if len(block):
            self._weigh(block)
            self._look(block)

    def _weigh(self, block: NDArray[np.float32]) -> None:
        import numpy as np

        # channel by channel in a row: four times as fast
        rows = np.ascontiguousarray(block.T)
        if self._waiting is not None:
            rows = np.concatenate([self._waiting, rows], axis=1)
        whole = rows.shape[1] // BLOCK * BLOCK
        self._waiting = rows[:, whole:]
        self._count_in(rows[:, :whole], whole)

    def _count_in(self, rows: NDArray[np.float32], frames: int) -> None:
        """Weigh rows of whole blocks and count in the first so many frames."""
        import numpy as np

        self._weighting = self._weighting or Weighting(self.rate, len(rows))
        weighed = self._weighting.weigh(np.ascontiguousarray(rows))[:, :frames]
        power = np.einsum("ij,ij->j", weighed, weighed)
        if self._left is not None:
            power = np.concatenate([self._left, power])
        hop = round(self.rate / HOPS_A_SECOND)
        whole = len(power) // hop * hop
        self.energies += power[:whole].reshape(-1, hop).mean(axis=1, dtype=np.float64).tolist()
        self._left = power[whole:]

    def _finish(self) -> None:
        """Count in what waits for a whole block, and look at the last frames."""
        import numpy as np

        if self._edge is None:
            return
        self._look(0 * self._edge[:_MARGIN])
        frames = self._waiting.shape[1]
        self._count_in(np.pad(self._waiting, ((0, 0), (0, BLOCK - frames))), frames)

    def _look(self, block: NDArray[np.float32]) -> None:
        """Note the sample peak, and keep the loudest stretches for a look between the samples.

        The last `_MARGIN` frames wait for what follows.
        """
        import numpy as np

        before = np.zeros((2 * _MARGIN, block.shape[1]), block.dtype) if self._edge is None else self._edge
        joined = np.concatenate([before, block])
        self._edge = joined[-2 * _MARGIN :].copy()
        starts = np.arange(0, len(joined) - 2 * _MARGIN, _STRETCH)
        tops = np.maximum.reduceat(_levels(joined[_MARGIN:-_MARGIN]), starts)
        self.peak = max(self.peak, float(tops.max()))
        for index in np.argsort(tops)[::-1][:_STRETCHES]:
            top = float(tops[index])
            if len(self._loudest) == _STRETCHES and top <= self._loudest[0][0]:
                break
            start = index * _STRETCH
            stretch = joined[start : start + _STRETCH + 2 * _MARGIN]
            self._count += 1
            heapq.heappush(self._loudest, (top, self._count, stretch.copy()))
            if len(self._loudest) > _STRETCHES:
                heapq.heappop(self._loudest)

    def done(self, again: Sequence[Again] = ()) -> Loudness:
        """What was measured, some stretches counted more often; `again` in time order."""
        self._finish()
        near = [stretch for top, _, stretch in self._loudest if top > self.peak * _NEAR_PEAK]
        for length in sorted({len(stretch) for stretch in near}):
            self.peak = max(self.peak, _between_samples([each for each in near if len(each) == length]))
        hop = round(self.rate / HOPS_A_SECOND)
        energies = [*self.energies]
        for stretch in reversed(again):
            first, last = (round(frame / hop) for frame in (stretch.start, stretch.stop))
            energies[last:last] = self.energies[first:last] * stretch.times
        if len(energies) < HOPS_A_BLOCK and self._left is not None:
            energies.append(float(self._left.sum()) / hop)
            energies += [0.0] * (HOPS_A_BLOCK - len(energies))
        return Loudness(_integrated(energies), 20 * math.log10(self.peak) if self.peak > 0 else -math.inf)


def measure(blocks: Iterable[NDArray[np.float32]], rate: int, again: Sequence[Again] = ()) -> Loudness:
    """The loudness and true peak of samples in blocks, shape (frames, channels), full scale 1.0, at `rate` Hz.

    A stretch that comes again need not be given again: `again` tells how often more it counts.
    """
    meter = _Meter(rate)
    for block in blocks:
        meter.add(block)
    return meter.done(again)


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


def _levels(block: NDArray[np.float32]) -> NDArray[np.float32]:
    """The louder channel at every frame; channel by channel, since numpy is slow along short axes."""
    import numpy as np

    found = np.abs(block[:, 0])
    for channel in range(1, block.shape[1]):
        np.maximum(found, np.abs(block[:, channel]), out=found)
    return found


def _between_samples(stretches: Sequence[NDArray[np.float32]]) -> float:
    """The true peak of stretches of one length, without their margins, where cutting them out rings."""
    import numpy as np

    rows = np.concatenate([each.T for each in stretches])
    frames = rows.shape[1]
    fade = np.sin(np.linspace(0, np.pi / 2, _MARGIN // 2, dtype=np.float32)) ** 2
    rows[:, : len(fade)] *= fade
    rows[:, -len(fade) :] *= fade[::-1]
    finer = np.fft.irfft(np.fft.rfft(rows), OVERSAMPLING * frames) * OVERSAMPLING
    cut = OVERSAMPLING * _MARGIN
    return float(abs(finer[:, cut:-cut]).max(initial=0.0))
