"""What each note sounds like in this take: spectra guessed from harmonics, then learned from the notes themselves.

A note's spectrum is a row over the columns of `frames.spectrum_of`, adding up to 1. How well a frame fits a note is the
cross-entropy, `SHARPNESS` times sum(frame × log(note)): the larger the better. The frame of a note that was never
heard alone is made of its neighbours', moved up or down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from appui.listen.frames import BINS_A_SEMITONE, LOWEST_KEY

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Matrix = NDArray[np.float32]
    Spectrum = NDArray[np.float16]

__all__ = ["SHARPNESS", "fits", "guessed", "learned", "mean_of"]

SHARPNESS = 2.0
FLOOR = 0.06
_PARTIALS = 10
_BLOCK = 8192
#  how many frames of a neighbour's weigh as much as none of its own
_BORROWED = 6.0


def guessed(keys: Sequence[int], bins: int) -> Matrix:
    """Spectra of harmonics that fall by 2.5 dB each, a row a key."""
    import numpy as np

    at = LOWEST_KEY + np.arange(bins) / BINS_A_SEMITONE
    rows = np.zeros((len(keys), bins))
    for partial in range(1, _PARTIALS + 1):
        centre = np.asarray(keys)[:, np.newaxis] + 12 * np.log2(partial)
        rows += 0.75 ** (partial - 1) * np.exp(-0.5 * ((at - centre) / 0.6) ** 2)
    return _floored(rows)


def learned(keys: Sequence[int], heard: Sequence[tuple[int, Spectrum]], bins: int) -> Matrix:
    """Spectra from the middles of notes: pairs of a key and its frames; keys not heard borrow from their neighbours."""
    import numpy as np

    sums, counts = np.zeros((len(keys), bins)), np.zeros(len(keys))
    row_of = {key: row for row, key in enumerate(keys)}
    for key, frames in heard:
        row = row_of.get(key)
        if row is not None and len(frames):
            sums[row] += frames.sum(axis=0, dtype=np.float64)
            counts[row] += len(frames)
    start = guessed(keys, bins)
    rows = np.zeros_like(sums)
    for row, key in enumerate(keys):
        borrowed, weight = _borrowed(key, keys, sums, counts)
        base = borrowed if weight > 0 else start[row].astype(np.float64)
        rows[row] = (sums[row] + _BORROWED * base) / (counts[row] + _BORROWED)
    return _floored(rows)


def _borrowed(
    key: int, keys: Sequence[int], sums: NDArray[np.float64], counts: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """The spectra of other keys moved to this one, the nearer the more."""
    import numpy as np

    total, weight = np.zeros(sums.shape[1]), 0.0
    for row, other in enumerate(keys):
        if other != key and counts[row] and abs(other - key) <= 7:
            part = np.exp(-abs(other - key) / 2) * min(counts[row], 40) / 40
            total += part * np.roll(sums[row] / counts[row], BINS_A_SEMITONE * (key - other))
            weight += part
    return (total / weight if weight else total), weight


def _floored(rows: NDArray[np.float64]) -> Matrix:
    """Rows adding up to 1, none of them nothing anywhere: a room and its noise put a little everywhere."""
    import numpy as np

    rows = rows / (rows.sum(axis=1, keepdims=True) + 1e-12)
    return np.asarray((1 - FLOOR) * rows + FLOOR / rows.shape[1], np.float32)


def fits(spectrum: Spectrum, rows: Matrix) -> Matrix:
    """How well every frame fits every note: shape (notes, frames)."""
    import numpy as np

    out = np.empty((len(rows), len(spectrum)), np.float32)
    logs = SHARPNESS * np.log(rows)
    for start, block in _blocks(spectrum):
        out[:, start : start + len(block)] = logs @ block.T
    return out


def mean_of(spectrum: Spectrum, weights: NDArray[np.float32]) -> NDArray[np.float64]:
    """The mean of frames, each as often as its weight says."""
    import numpy as np

    total = np.zeros(spectrum.shape[1])
    for start, block in _blocks(spectrum):
        total += weights[start : start + len(block)] @ block
    return np.asarray(total / max(float(weights.sum()), 1e-9))


def _blocks(spectrum: Spectrum) -> Iterator[tuple[int, Matrix]]:
    """The frames some thousands at a time, in single precision."""
    import numpy as np

    for start in range(0, len(spectrum), _BLOCK):
        yield start, spectrum[start : start + _BLOCK].astype(np.float32)
