"""The weights of `appui.harmony.ranking_weights`, fitted on small notes and on chord labels; used by harmony_labels.py.

For a small note with a label two things are asked of the chords: that they contain it or not, as the expert's chord
does, and that they are the expert's chord. Of full-size notes only the second, and each counts a third. The weights
are held to what the chord says alone by a ridge.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from appui.harmony.ranking import Table
from appui.harmony.segment import members_table

RIDGE = 30.0
FULL_SIZE = 0.3
STEPS = 25
#  the likeliest chords of each place, by the chord alone: the others are not asked when fitting
LIKELIEST = 24
_ENOUGH = 1e-4

Weights = dict[str, float]


class Asked(NamedTuple):
    """One place to fit on: `facts` (chords, facts), and what is asked of the chords there.

    `agree` are the chords that say of the small note what the label says, `is_chord` those that are the expert's (all
    where none is); `small` and `chord` are what each of the two questions counts.
    """

    facts: np.ndarray
    agree: np.ndarray
    is_chord: np.ndarray
    small: float
    chord: float
    work: str
    composer: str


def facts_table(names: Sequence[str], *tables: Table) -> np.ndarray:
    """(chords, facts) in the order of the names; a fact that no table has is 0 for every chord."""
    joined = {name: values for table in tables for name, values in table.items()}
    columns = [np.broadcast_to(joined.get(name, 0.0), len(members_table())) for name in names]
    return np.stack(columns, 1).astype(np.float32)


def chords_of(classes: set[int]) -> np.ndarray:
    """(chords,) which chords have just these pitch classes."""
    wanted = np.zeros(12)
    wanted[list(classes)] = 1.0
    same: np.ndarray = (members_table() == wanted).all(1)
    return same


def fit(names: Sequence[str], places: Sequence[Asked]) -> Weights:
    """The weights of the facts, by name."""
    column = list(names).index("chance")
    best = [np.argsort(-place.facts[:, column], kind="stable")[:LIKELIEST] for place in places]
    table = np.stack([place.facts[few] for place, few in zip(places, best, strict=True)]).astype(float)
    width = table.std((0, 1)) + 1e-6
    table /= width
    targets = [
        np.stack([place.agree[few] for place, few in zip(places, best, strict=True)]),
        np.stack([place.is_chord[few] for place, few in zip(places, best, strict=True)]),
    ]
    counts = [np.array([place.small for place in places]), np.array([place.chord for place in places])]
    start = np.zeros(len(names))
    start[column] = width[column]
    values = start.copy()
    for _ in range(STEPS):
        step = _step(table, targets, counts, values, start)
        values += step
        if np.abs(step).max() < _ENOUGH:
            break
    return dict(zip(names, (values / width).tolist(), strict=True))


def _step(
    table: np.ndarray,
    targets: Sequence[np.ndarray],
    counts: Sequence[np.ndarray],
    values: np.ndarray,
    start: np.ndarray,
) -> np.ndarray:
    """One step of Newton's method; the curvature is that of the chances alone, so it always leads up."""
    said = chances(table, values)
    slope = -RIDGE * (values - start)
    for target, count in zip(targets, counts, strict=True):
        # where none of the chords asked will do, nothing is learned
        asked = np.where(target.any(1, keepdims=True), np.where(target, said, 0.0), said)
        asked /= np.maximum(asked.sum(1, keepdims=True), 1e-12)
        slope = slope + np.tensordot((asked - said) * count[:, None], table, ([0, 1], [0, 1]))
    total = np.sum(counts, axis=0)
    mean = np.einsum("nc,ncf->nf", said, table) * np.sqrt(total)[:, None]
    rows = (table * np.sqrt(said * total[:, None])[:, :, None]).reshape(-1, len(values))
    curve = RIDGE * np.eye(len(values)) + rows.T @ rows - mean.T @ mean
    return np.linalg.solve(curve, slope)


def chances(table: np.ndarray, values: np.ndarray) -> np.ndarray:
    """(places, chords) the chance of each chord."""
    total = table @ values
    chance = np.exp(total - total.max(1, keepdims=True))
    shares: np.ndarray = chance / chance.sum(1, keepdims=True)
    return shares
