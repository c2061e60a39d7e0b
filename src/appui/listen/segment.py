"""The best cut of a stretch of sound into a row of notes: where each begins, so that all frames fit best.

A note gains at every frame what that frame fits it, and once, where it begins, what speaks for a beginning there. Notes
that may be missing are nodes that others may pass by. All ends of a note are found at once: with the sums C of its
gains, the best score of a note that ends at t is C[t] + max over s of (what came before, until s) - C[s].
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Row = NDArray[np.float64]

__all__ = ["Cut", "Node", "best_cut", "sums_of"]


class Node(NamedTuple):
    """A note or silence: its sums of gains (one more than frames), the nodes it may follow, its fewest frames.

    -1 in `after` is the beginning of the stretch. `enters` is what it gains by beginning at each frame.
    """

    sums: Row
    after: tuple[int, ...]
    least: int
    enters: Row | None = None


class Cut(NamedTuple):
    """Where each node begins and ends, in frames, -1 for one passed by; and the score of the whole."""

    starts: tuple[int, ...]
    ends: tuple[int, ...]
    score: float


def sums_of(gains: NDArray[np.floating]) -> Row:
    """Running sums from 0, one more than there are gains."""
    import numpy as np

    return np.concatenate([[0.0], np.cumsum(gains, dtype=np.float64)])


def best_cut(nodes: Sequence[Node], outside: Row, last: Sequence[int], *, free: bool = True) -> Cut:
    """The best way through the nodes; `outside` are the sums of frames before the first and after the last.

    `last` are the nodes it may end with. Not `free`, the first begins at frame 0 and the last ends at the last frame.
    """
    import numpy as np

    length = len(outside)
    begin = outside.copy() if free else np.full(length, -np.inf)
    begin[0] = 0.0
    ended: list[Row] = []
    entered: list[NDArray[np.intp]] = []
    came: list[NDArray[np.int8]] = []
    frames = np.arange(length)
    for node in nodes:
        ways = [begin if each < 0 else ended[each] for each in node.after]
        score, way = _better(ways)
        if node.enters is not None:
            score = score + node.enters
        gain = score - node.sums
        best = np.maximum.accumulate(gain)
        at = np.maximum.accumulate(np.where(gain == best, frames, 0))
        row = np.full(length, -np.inf)
        row[node.least :] = node.sums[node.least :] + best[: length - node.least]
        ended.append(row)
        entered.append(at)
        came.append(way)
    rest = outside[-1] - outside if free else np.where(frames == length - 1, 0.0, -np.inf)
    totals = [ended[each] + rest for each in last]
    node_at = int(np.argmax([each.max() for each in totals]))
    end = int(totals[node_at].argmax())
    return _traced(nodes, entered, came, last[node_at], end, float(totals[node_at][end]))


def _better(ways: Sequence[Row]) -> tuple[Row, NDArray[np.int8]]:
    import numpy as np

    score, way = ways[0], np.zeros(len(ways[0]), np.int8)
    for number, other in enumerate(ways[1:], 1):
        better = other > score
        score = np.where(better, other, score)
        way[better] = number
    return score, way


def _traced(
    nodes: Sequence[Node],
    entered: Sequence[NDArray[np.intp]],
    came: Sequence[NDArray[np.int8]],
    node: int,
    end: int,
    score: float,
) -> Cut:
    starts, ends = [-1] * len(nodes), [-1] * len(nodes)
    while node >= 0:
        start = int(entered[node][max(end - nodes[node].least, 0)])
        starts[node], ends[node] = start, end
        node, end = nodes[node].after[int(came[node][start])], start
    return Cut(tuple(starts), tuple(ends), score)
