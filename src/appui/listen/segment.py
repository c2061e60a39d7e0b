"""The best cut of a stretch of sound into a row of notes: where each begins, so that all frames fit best.

A note gains at every frame what that frame fits it, and once, where it begins, what speaks for a beginning there. Notes
that may be missing are nodes that others may pass by. All ends of a note are found at once: with the sums C of its
gains, the best score of a note that ends at t is C[t] + max over s of (what came before, until s) - C[s].

Of a long row only scores at some nodes are kept on the way; the way back is found block by block from them, so memory
does not grow with the number of notes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Row = NDArray[np.float64]

__all__ = ["Cut", "Hint", "Node", "best_cut", "sums_of"]

#  nodes whose ways are kept at a time: about as many as there are blocks in a long row
BLOCK = 96


class Hint(NamedTuple):
    """Where a note is expected to begin: it loses (frames away / `wide`)², at most `most`²."""

    centre: float
    wide: float
    most: float = float("inf")


class Node(NamedTuple):
    """A note or silence: its sums of gains (one more than frames), the nodes it may follow, its fewest frames.

    -1 in `after` is the beginning of the stretch. `struck` is what it gains by beginning at each frame, `hint` where it
    is expected to. Sums that are many and long are given as a function that makes them when they are needed.
    `costs` is what it loses by lasting `least` frames, one more, and so on, and it lasts no longer than they tell;
    without them any length is as good.
    """

    sums: Row | Callable[[], Row]
    after: tuple[int, ...]
    least: int
    struck: Row | None = None
    hint: Hint | None = None
    costs: Row | None = None


class Cut(NamedTuple):
    """Where each node begins and ends, in frames, -1 for one passed by; and the score of the whole."""

    starts: tuple[int, ...]
    ends: tuple[int, ...]
    score: float


class _Ways(NamedTuple):
    """Of one node, by where it ends: where it began; by where it begins: which of its predecessors came before."""

    entered: NDArray[np.int32]
    came: NDArray[np.int8]


def sums_of(gains: NDArray[np.floating]) -> Row:
    """Running sums from 0, one more than there are gains."""
    import numpy as np

    return np.concatenate([[0.0], np.cumsum(gains, dtype=np.float64)])


def best_cut(nodes: Sequence[Node], outside: Row, last: Sequence[int], *, free: bool = True) -> Cut:
    """The best way through the nodes; `outside` are the sums of frames before the first and after the last.

    `last` are the nodes it may end with. Not `free`, the first begins at frame 0 and the last ends at the last frame.
    """
    import numpy as np

    begin = outside.copy() if free else np.full(len(outside), -np.inf)
    begin[0] = 0.0
    kept = _kept(nodes, begin, last)
    rest = outside[-1] - outside if free else np.where(np.arange(len(outside)) == len(outside) - 1, 0.0, -np.inf)
    totals = [kept[-1][each] + rest for each in last]
    best = int(np.argmax([each.max() for each in totals]))
    end = int(totals[best].argmax())
    return _traced(nodes, kept, last[best], end, float(totals[best][end]))


def _kept(nodes: Sequence[Node], begin: Row, last: Sequence[int]) -> list[dict[int, Row]]:
    """The scores by their ends that each block needs of nodes before it, and at last those of the `last` nodes."""
    kept: list[dict[int, Row]] = []
    ended: dict[int, Row] = {-1: begin}
    for first in range(0, len(nodes), BLOCK):
        ended = {number: ended[number] for number in _needed(nodes, first, last) if number in ended}
        kept.append(dict(ended))
        for number in range(first, min(first + BLOCK, len(nodes))):
            ended[number], _ = _ended(nodes[number], ended)
    return [*kept, {number: ended[number] for number in last}]


def _needed(nodes: Sequence[Node], first: int, last: Sequence[int]) -> set[int]:
    """The nodes before `first` that a later one may follow."""
    return {-1, *last, *(each for node in nodes[first : first + BLOCK] for each in node.after if each < first)}


def _ended(node: Node, ended: Mapping[int, Row]) -> tuple[Row, _Ways]:
    """The best score of a node by where it ends, and the ways there."""
    import numpy as np

    score, way = _better([ended[each] for each in node.after])
    if node.struck is not None:
        score = score + node.struck
    if node.hint is not None:
        away = np.abs(np.arange(len(score)) - node.hint.centre)
        score = score - np.minimum(away / node.hint.wide, node.hint.most) ** 2
    sums = node.sums() if callable(node.sums) else node.sums
    gain = score - sums
    best, at = _longest(gain) if node.costs is None else _lasting(gain, node.costs)
    row = np.full(len(score), -np.inf)
    row[node.least :] = sums[node.least :] + best[: len(score) - node.least]
    return row, _Ways(at, way)


def _longest(gain: Row) -> tuple[Row, NDArray[np.int32]]:
    """Of every frame the best beginning up to it."""
    import numpy as np

    best = np.maximum.accumulate(gain)
    frames = np.arange(len(gain), dtype=np.int32)
    return best, np.maximum.accumulate(np.where(gain == best, frames, np.int32(0)))


def _lasting(gain: Row, costs: Row) -> tuple[Row, NDArray[np.int32]]:
    """Of every frame the best beginning up to it, less what it costs to last so much longer than the shortest."""
    import numpy as np

    longest = min(len(costs), len(gain))
    padded = np.concatenate([np.full(longest - 1, -np.inf), gain])
    ways = np.lib.stride_tricks.sliding_window_view(padded, longest) - costs[longest - 1 :: -1]
    best = ways.argmax(axis=1)
    frames = np.arange(len(gain))
    return ways[frames, best], (frames + best - longest + 1).astype(np.int32)


def _better(ways: Sequence[Row]) -> tuple[Row, NDArray[np.int8]]:
    import numpy as np

    score, way = ways[0], np.zeros(len(ways[0]), np.int8)
    for number, other in enumerate(ways[1:], 1):
        better = other > score
        score = np.where(better, other, score)
        way[better] = number
    return score, way


def _traced(nodes: Sequence[Node], kept: Sequence[Mapping[int, Row]], node: int, end: int, score: float) -> Cut:
    """The way back from the end, each block found again from what was kept before it."""
    starts, ends = [-1] * len(nodes), [-1] * len(nodes)
    for block in range(len(kept) - 2, -1, -1):
        first = block * BLOCK
        ways, ended = [], dict(kept[block])
        for number in range(first, node + 1):
            ended[number], way = _ended(nodes[number], ended)
            ways.append(way)
        while node >= first:
            start = int(ways[node - first].entered[max(end - nodes[node].least, 0)])
            starts[node], ends[node] = start, end
            node, end = nodes[node].after[int(ways[node - first].came[start])], start
    return Cut(tuple(starts), tuple(ends), score)
