"""Where a note begins under what still rings: each note's own share of the sound, and the moment it rises.

A frame of the take is a sum of the notes that may sound in it, so much of each one's spectrum (`appui.listen.spectra`).
How much of each is found step by step, and is never less than nothing. A note that rings on falls, the new one rises:
it begins where it has risen half way, whatever rings on.

Source: Lee and Seung 2001, Algorithms for Non-negative Matrix Factorization, the updates for the divergence (memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from appui.listen.frames import magnitudes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from appui.listen.spectra import Matrix

    Row = NDArray[np.float64]

__all__ = ["Sound", "risen_at", "shares_of"]

_UPDATES = 25
#  frames on either side of a beginning that are compared
_SIDE = 5
#  how far before and after the moment expected a beginning is looked for, and how far from it tells, frames
_BEFORE, _AFTER, _WIDE = 18, 10, 14.0
#  what a beginning loses, in shares of its height, that lies so far away
_AWAY = 0.3
#  a note that rises by less than this share of its own height does not begin there, as far as can be heard
_LEAST_RISE = 0.4
#  a note begins where it has risen by this share of its step
_RISEN = 0.5
#  a note's height is that of its louder part over so many frames
_HEIGHT_FRAMES, _LOUDER = 50, 0.7


class Sound(Protocol):
    """Anything with samples and a tuning."""

    @property
    def samples(self) -> NDArray[np.floating]:
        """One channel at `appui.listen.frames.RATE`."""

    @property
    def a4_hz(self) -> float:
        """Where A4 is."""


def shares_of(sound: Sound, rows: Matrix, first: int, last: int) -> NDArray[np.float64]:
    """How much of each note's spectrum, a row each, is in each frame: shape (notes, frames), 0 or more."""
    import numpy as np

    heard = magnitudes(sound.samples, first, last, sound.a4_hz).astype(np.float64)
    spectra = np.vstack([rows, np.full((1, rows.shape[1]), 1 / rows.shape[1])]).astype(np.float64)
    shares = np.tile(heard.sum(axis=1, keepdims=True) / len(spectra), (1, len(spectra)))
    for _ in range(_UPDATES):
        shares *= (heard / (shares @ spectra + 1e-12)) @ spectra.T
    return np.asarray(shares[:, :-1].T)


def risen_at(share: Row, expected: int, earliest: int = 0) -> float:
    """The frame, and the part of one, in which a note has risen half way; `nan` where it does not rise.

    `share` is its own over some frames, `expected` the frame where it begins, about; it is not before `earliest`.
    """
    import numpy as np

    part = share[expected : expected + _HEIGHT_FRAMES]
    if not len(part):
        return float("nan")
    height = float(np.quantile(part, _LOUDER))
    low, high = max(expected - _BEFORE, earliest, 1), min(expected + _AFTER, len(share) - 1)
    if high <= low or height <= 0:
        return float("nan")
    at = np.arange(low, high)
    rise = np.array([_step(share, int(each)) for each in at]) / height
    worth = rise - _AWAY * ((at - expected) / _WIDE) ** 2
    best = int(worth.argmax())
    if rise[best] < _LEAST_RISE:
        return float("nan")
    return _half_way(share, int(at[best]))


def _step(share: Row, at: int) -> float:
    """How much higher a share is after a frame than before it."""
    return float(share[at : at + _SIDE].mean() - share[max(at - _SIDE, 0) : at].mean())


def _half_way(share: Row, at: int) -> float:
    low = float(share[max(at - _SIDE, 0) : at].min())
    high = float(share[at : at + _SIDE].max())
    middle = low + _RISEN * (high - low)
    first = max(at - _SIDE, 0)
    part = share[first : at + _SIDE]
    for number in range(len(part) - 1):
        if part[number] < middle <= part[number + 1]:
            return first + number + float((middle - part[number]) / (part[number + 1] - part[number]))
    return float(at)
