"""Local keys, bar by bar: which of the 24 keys the notes around a bar fit best, with a cost for changing.

The profiles are the well-known probe-tone ratings (Krumhansl and Kessler 1982, memory); a study of keys is no aim
here: the key spells chords and numbers their degrees, and membership does not depend on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["LocalKey", "local_keys"]

_MAJOR = np.array([6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88])
_MINOR = np.array([6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17])
_CHANGE = 0.25
_REACH_BARS = 2
LocalKey = tuple[int, bool]


def _profiles() -> NDArray[np.float64]:
    rows = [np.roll(profile, tonic) for profile in (_MAJOR, _MINOR) for tonic in range(12)]
    table = np.array(rows)
    table -= table.mean(1, keepdims=True)
    return np.asarray(table / np.linalg.norm(table, axis=1, keepdims=True))


def local_keys(by_bar: NDArray[np.float64], signature_fifths: NDArray[np.int64]) -> list[LocalKey]:
    """(tonic on the line of fifths, minor?) for each bar, from how much each pitch class weighs in it.

    `signature_fifths` holds the key signature of each bar (sounding): it spells the tonic and breaks ties.
    """
    if not len(by_bar):
        return []
    kernel = [0.5 ** abs(i) for i in range(-_REACH_BARS, _REACH_BARS + 1)]
    padded = np.pad(by_bar, ((_REACH_BARS, _REACH_BARS), (0, 0)))
    near = np.zeros(by_bar.shape)
    for i, weight in enumerate(kernel):
        near += weight * padded[i : i + len(by_bar)]
    near = near - near.mean(1, keepdims=True)
    norm = np.linalg.norm(near, axis=1, keepdims=True)
    fit = (near / np.where(norm > 0, norm, 1)) @ _profiles().T
    for bar, fifths in enumerate(signature_fifths):
        fit[bar, fifths * 7 % 12] += 0.1
        fit[bar, 12 + (fifths + 3) * 7 % 12] += 0.1
    return [_spelled(int(key), int(signature_fifths[bar])) for bar, key in enumerate(_path(fit))]


def _path(fit: NDArray[np.float64]) -> list[int]:
    """The best sequence of keys: fit added up, each change paid for."""
    score = fit[0].copy()
    back = np.zeros(fit.shape, np.int64)
    for bar in range(1, len(fit)):
        best = int(score.argmax())
        stay = score >= score[best] - _CHANGE
        back[bar] = np.where(stay, np.arange(24), best)
        score = np.where(stay, score, score[best] - _CHANGE) + fit[bar]
    path = [int(score.argmax())]
    for bar in range(len(fit) - 1, 0, -1):
        path.append(int(back[bar, path[-1]]))
    return path[::-1]


def _spelled(key: int, signature: int) -> LocalKey:
    minor, tonic = divmod(key, 12)
    base = tonic * 7 % 12
    home = signature + (3 if minor else 0)
    return min((base + 12 * turn for turn in (-2, -1, 0, 1)), key=lambda f: (abs(f - home), abs(f))), bool(minor)
