"""Local keys, bar by bar: in which of the 24 keys the chords of a bar make most sense, with a cost for changing.

A chord speaks for a key by what it does there: the dominant seventh says more than a triad, the tonic more than the
third degree. The weights are common practice put into numbers, no source; on expert-labelled scores they gave the
expert's key in five places of six, where a fit of pitch classes to key profiles gave it in four of six. The
key numbers the degrees, helps to spell, and tells a cadential six-four from others; membership depends on it only in
that some degrees are commoner, and there the signature is not asked. How sure a
key is tells a second pass, which sums over all paths of keys instead of looking for the best.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from appui.harmony.templates import CHORDS
from appui.score.model import Score

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["LocalKey", "key_chances", "local_keys", "signatures_of", "spelled_key"]

LocalKey = tuple[int, bool]

# fmt: off
#  semitones above the tonic: what a chord of this type there says for the key
_MAJOR: dict[str, dict[int, float]] = {
    "major":              {0: 2.0, 7: 1.3, 5: 1.0, 2: 0.2},
    "minor":              {2: 1.0, 9: 0.8, 4: 0.3, 5: 0.3},
    "dominant seventh":   {7: 2.5, 2: 0.2, 0: 0.0},
    "diminished":         {11: 1.2},
    "diminished seventh": {11: 1.0, 6: 0.2},
    "half-diminished":    {11: 1.5},
    "minor seventh":      {2: 1.2, 9: 0.5},
    "major seventh":      {0: 1.0, 5: 0.7},
}
_MINOR: dict[str, dict[int, float]] = {
    "major":              {7: 1.3, 8: 0.7, 1: 0.4, 3: 0.3, 10: 0.0},
    "minor":              {0: 2.0, 5: 1.0},
    "dominant seventh":   {7: 2.3, 8: 0.5},
    "diminished":         {11: 1.2, 2: 1.0},
    "diminished seventh": {11: 1.8, 6: 0.3},
    "half-diminished":    {2: 1.4},
    "minor seventh":      {5: 0.8},
    "major seventh":      {8: 0.5},
}
# fmt: on
_ELSEWHERE = -1.0
_SIGNATURE = 0.2
_CHANGE = 3.0


@lru_cache(maxsize=1)
def _functions() -> Floats:
    """(24 keys, chords): what each chord says for each key; majors first, by tonic pitch class."""
    table = np.full((24, len(CHORDS)), _ELSEWHERE)
    for half, facts in enumerate((_MAJOR, _MINOR)):
        for column, chord in enumerate(CHORDS):
            for gap, says in facts[chord.type.name].items():
                table[12 * half + (chord.root - gap) % 12, column] = says
    return table


def local_keys(by_bar: Floats, signature_fifths: NDArray[np.int64]) -> list[LocalKey]:
    """(tonic on the line of fifths, minor?) for each bar, from how long each chord probably sounds in it.

    `by_bar` is (bars, chords); an empty bar is all zeros and keeps the key. `signature_fifths` holds the key signature
    of each bar (sounding): it spells the tonic and breaks ties.
    """
    if not len(by_bar):
        return []
    path = _path(_fits(by_bar, signature_fifths))
    return [spelled_key(key, int(signature_fifths[bar])) for bar, key in enumerate(path)]


def key_chances(by_bar: Floats, signature_fifths: NDArray[np.int64] | None) -> Floats:
    """(bars, 24) the chance of each key in each bar, by forward-backward; majors first, by tonic pitch class.

    The arguments are those of `local_keys`, without a signature where the chords alone are to tell. A change costs what
    it costs there, whatever the new key.
    """
    likelihood = np.exp(_fits(by_bar, signature_fifths))
    change = float(np.exp(-_CHANGE))
    ahead, back = np.empty_like(likelihood), np.ones_like(likelihood)
    for bar in range(len(likelihood)):
        before = ahead[bar - 1] + change * ahead[bar - 1].sum() if bar else 1.0
        ahead[bar] = likelihood[bar] * before
        ahead[bar] /= ahead[bar].sum()
    for bar in range(len(likelihood) - 2, -1, -1):
        after = likelihood[bar + 1] * back[bar + 1]
        back[bar] = after + change * after.sum()
        back[bar] /= back[bar].sum()
    chances = ahead * back
    return np.asarray(chances / np.maximum(chances.sum(1, keepdims=True), 1e-300))


def signatures_of(score: Score) -> NDArray[np.int64]:
    """(bars,) the key signature of each bar as it sounds, in fifths."""
    keyed = next((part for part in score.parts if part.keys and not part.transpositions), score.parts[0])
    return np.array(
        [keyed.key_at(bar.onset_q).fifths + keyed.transposition_at(bar.onset_q).fifths for bar in score.bars], np.int64
    )


def _fits(by_bar: Floats, signature_fifths: NDArray[np.int64] | None) -> Floats:
    """(bars, 24) how well the chords of each bar fit each key."""
    total = by_bar.sum(1, keepdims=True)
    fit = np.asarray(by_bar @ _functions().T / np.where(total > 0, total, 1))
    if signature_fifths is None:
        return fit
    bars = np.arange(len(by_bar))
    fit[bars, signature_fifths * 7 % 12] += _SIGNATURE
    fit[bars, 12 + (signature_fifths + 3) * 7 % 12] += _SIGNATURE
    return fit


def _path(fit: Floats) -> list[int]:
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


def spelled_key(key: int, signature: int) -> LocalKey:
    """One of the 24 keys (majors first, by tonic pitch class) as it is spelled under a signature (fifths)."""
    minor, tonic = divmod(key, 12)
    base = tonic * 7 % 12
    home = signature + (3 if minor else 0)
    return min((base + 12 * turn for turn in (-2, -1, 0, 1)), key=lambda f: (abs(f - home), abs(f))), bool(minor)
