"""The weighting of ITU-R BS.1770 (K-weighting): a shelf for the head, then a high pass, as one filter of fourth order.

The standard gives coefficients for 48 kHz; for other rates its two analogue filters are transformed anew (the constants
are those that give the printed coefficients again; memory, as is the table they are tested against).

The filter is worked in blocks of `BLOCK` samples as products of matrices, which numpy does in one call: what a block
sounds by itself, what it leaves in the filter's memory, and what that memory adds to the next. The memories of all
blocks are found by doubling: after n steps each holds what 2^n blocks have left. It agrees with the recursion sample by
sample to single precision, and a library of signal processing, a second's loading, is not needed.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Weighting", "coefficients"]

#  Hz, quality; the shelf's gain in dB (its middle at the power `_MIDDLE` of it)
_SHELF = (1681.974450955533, 0.7071752369554196)
_SHELF_DB, _MIDDLE = 3.999843853973347, 0.4996667741545416
_HIGH_PASS = (38.13547087602444, 0.5003270373238773)
BLOCK = 32
AT_A_TIME = 256
_ORDER = 4
_NOTHING = 1e-12


def coefficients(rate: int) -> tuple[tuple[list[float], list[float]], tuple[list[float], list[float]]]:
    """Numerator and denominator of the shelf and of the high pass at a rate in Hz."""
    bend, quality = math.tan(math.pi * _SHELF[0] / rate), _SHELF[1]
    high, middle = 10 ** (_SHELF_DB / 20), 10 ** (_SHELF_DB * _MIDDLE / 20)
    first = 1 + bend / quality + bend**2
    shelf = (
        [
            (high + middle * bend / quality + bend**2) / first,
            2 * (bend**2 - high) / first,
            (high - middle * bend / quality + bend**2) / first,
        ],
        _denominator(bend, quality),
    )
    return shelf, ([1.0, -2.0, 1.0], _denominator(math.tan(math.pi * _HIGH_PASS[0] / rate), _HIGH_PASS[1]))


def _denominator(bend: float, quality: float) -> list[float]:
    first = 1 + bend / quality + bend**2
    return [1.0, 2 * (bend**2 - 1) / first, (1 - bend / quality + bend**2) / first]


class _Matrices(NamedTuple):
    """`own`: samples of a block to its output; `leaves`: to memory; `adds`: memory to output; `step`: to memory."""

    own: Any
    leaves: Any
    adds: Any
    step: Any


@cache
def _matrices(rate: int) -> _Matrices:
    import numpy as np

    step, inlet, outlet, through = _system(rate)
    powers = [np.eye(len(step))]
    for _ in range(BLOCK):
        powers.append(powers[-1] @ step)
    response = [through, *(outlet @ power @ inlet for power in powers[: BLOCK - 1])]
    own = np.array([[response[j - i] if j >= i else 0.0 for j in range(BLOCK)] for i in range(BLOCK)])
    leaves = np.array([powers[BLOCK - 1 - i] @ inlet for i in range(BLOCK)])
    adds = np.array([outlet @ power for power in powers[:BLOCK]]).T
    return _Matrices(own.astype(np.float32), leaves.astype(np.float32), adds.astype(np.float32), powers[BLOCK].T)


def _system(rate: int) -> tuple[Any, Any, Any, float]:
    """Shelf and high pass one after the other: memory to memory, sample to memory, memory to output, sample to output.

    Both in the transposed direct form. The high pass remembers its first memory and the sum of both, which nearly
    cancel: so single precision is enough.
    """
    import numpy as np

    shelf, high_pass = coefficients(rate)
    (step, inlet, through), (next_step, next_inlet, next_through) = _section(*shelf), _section(*high_pass)
    outlet = np.array([1.0, 0.0])
    whole = np.block([[step, np.zeros((2, 2))], [np.outer(next_inlet, outlet), next_step]])
    inlets = np.concatenate([inlet, next_inlet * through])
    outlets = np.concatenate([outlet * next_through, outlet])
    summed = np.eye(_ORDER)
    summed[3, 2] = 1.0
    back = np.linalg.inv(summed)
    return summed @ whole @ back, summed @ inlets, outlets @ back, next_through * through


def _section(above: list[float], below: list[float]) -> tuple[Any, Any, float]:
    """A filter of second order: memory to memory, sample to memory, sample to output; the first memory is put out."""
    import numpy as np

    step = np.array([[-below[1], 1.0], [-below[2], 0.0]])
    return step, np.array(above[1:]) - np.array(below[1:]) * above[0], above[0]


def _times(blocks: NDArray[np.float32], matrix: NDArray[np.float32]) -> NDArray[np.float32]:
    """Blocks times a matrix, few at a time: for larger products BLAS wakes threads of its own, which get in our way."""
    import numpy as np

    product = np.empty((*blocks.shape[:2], matrix.shape[1]), np.float32)
    for start in range(0, blocks.shape[1], AT_A_TIME):
        np.matmul(blocks[:, start : start + AT_A_TIME], matrix, out=product[:, start : start + AT_A_TIME])
    return product


class Weighting:
    """Weighs samples in rows, one a channel, as they come."""

    def __init__(self, rate: int, channels: int) -> None:
        import numpy as np

        self._by = _matrices(rate)
        self._memory = np.zeros((channels, _ORDER))

    def weigh(self, rows: NDArray[np.float32]) -> NDArray[np.float32]:
        """The next samples weighed; shape (channels, frames), frames a multiple of `BLOCK`."""
        blocks = rows.reshape(len(rows), -1, BLOCK)
        memory = self._memories(_times(blocks, self._by.leaves))
        weighed = _times(blocks, self._by.own)
        weighed += _times(memory, self._by.adds)
        return weighed.reshape(rows.shape)

    def _memories(self, left: NDArray[np.float32]) -> NDArray[np.float32]:
        """The memory at the beginning of every block, from what each by itself leaves."""
        import numpy as np

        memory = np.concatenate([self._memory[:, np.newaxis], left], axis=1, dtype=np.float64)
        step, reach = self._by.step, 1
        while reach < memory.shape[1] and abs(step).max() > _NOTHING:
            memory[:, reach:] += memory[:, :-reach] @ step
            step, reach = step @ step, 2 * reach
        self._memory = memory[:, -1]
        return memory[:, :-1].astype(np.float32)
