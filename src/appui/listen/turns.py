"""A trill note by note: which of its pitches sounds at each frame, for about as long as a trill of its speed has it.

The speed comes first, from how regularly the two pitches take turns; then the row of notes that fits best, in which a
note much shorter or longer than that speed has it must speak the more clearly.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["TRILL_FRAMES", "in_turn", "trill_states", "usual_frames"]

#  a trill's note lasts at least so long, and to change it costs as much as a few frames that fit badly
TRILL_FRAMES, _CHANGE = 6, 3.0
#  two notes of a trill last so many frames (110 to 410 ms): nobody trills quicker
_PAIRS = (19, 70)
#  how regular turns must be to tell a speed; a shorter time that is nearly as regular is the speed
_REGULAR, _NEARLY = 0.2, 0.75
#  what a note costs that is shorter or longer than the others: so much times the square of the natural logarithm of
#  how many times, and at most; a longer one is rather several of which some were missed
_UNEVEN, _UNEVEN_LONG, _MOST = 8.0, 20.0, 60.0
#  the first note and the last may be held, and cost no more than this
_HELD = 10.0
#  so many changes are a trill
_FEWEST = 3
#  a note is at least this share of its usual length
_SHORT = 0.5


def trill_states(rows: NDArray[np.float32], upper: int, main: int) -> NDArray[np.intp]:
    """Which row fits at each frame: in notes of the speed at which upper and main note take turns.

    Where no trill is found so, in notes of any length.
    """
    import numpy as np

    states = in_turn(rows, usual_frames(rows[upper] - rows[main]))
    return states if np.count_nonzero(np.diff(states)) >= _FEWEST else in_turn(rows, None)


def usual_frames(upper: NDArray[np.float32]) -> float | None:
    """How many frames a note of a trill lasts, from how the upper note comes and goes; `None` where it does not."""
    import numpy as np

    swing = np.clip(upper - np.median(upper), -4, 4).astype(np.float64)
    swing -= swing.mean()
    most = min(_PAIRS[1], len(swing) // 2)
    power = float(swing @ swing)
    if most <= _PAIRS[0] + 1 or power <= 0:
        return None
    alike = np.array([swing[lag:] @ swing[:-lag] for lag in range(1, most + 2)]) / power
    alike *= len(swing) / (len(swing) - np.arange(1, most + 2))
    tops = [lag for lag in range(_PAIRS[0], most + 1) if alike[lag - 2] <= alike[lag - 1] >= alike[lag]]
    best = max((alike[lag - 1] for lag in tops), default=0.0)
    if best < _REGULAR:
        return None
    return next(lag for lag in tops if alike[lag - 1] >= _NEARLY * best) / 2


def in_turn(rows: NDArray[np.float32], usual: float | None) -> NDArray[np.intp]:
    """Which row fits at each frame, in notes of `TRILL_FRAMES` or more, of about `usual` frames where that is known.

    There are two rows at least.
    """
    import numpy as np

    count, length = rows.shape
    least = TRILL_FRAMES if usual is None else max(TRILL_FRAMES, int(_SHORT * usual))
    sums = np.concatenate([np.zeros((count, 1)), np.cumsum(rows, axis=1, dtype=np.float64)], axis=1)
    lasting = np.arange(least, length + 1)
    cost = np.zeros(len(lasting)) if usual is None else _uneven(lasting, usual)
    ended = np.full((length + 1, count), -np.inf)
    came = np.zeros((length + 1, count, 2), np.intp)
    for end in range(least, length + 1):
        starts = end - lasting[lasting <= end]
        costs = cost[: len(starts)] if end < length else np.minimum(cost[: len(starts)], _HELD)
        first = np.where(starts == 0, -np.minimum(costs, _HELD), -np.inf)
        for state in range(count):
            others = np.delete(ended[starts], state, axis=1)
            which = others.argmax(axis=1)
            before = np.maximum(others[np.arange(len(starts)), which] - _CHANGE - costs, first)
            gain = before - sums[state, starts]
            best = int(gain.argmax())
            ended[end, state] = sums[state, end] + gain[best]
            other = int(which[best]) + (which[best] >= state)
            came[end, state] = starts[best], other
    return _way_back(ended, came)


def _uneven(lasting: NDArray[np.intp], usual: float) -> NDArray[np.float64]:
    import numpy as np

    away = np.log(lasting / usual)
    return np.asarray(np.minimum(np.where(away > 0, _UNEVEN_LONG, _UNEVEN) * away**2, _MOST))


def _way_back(ended: NDArray[np.float64], came: NDArray[np.intp]) -> NDArray[np.intp]:
    import numpy as np

    end = len(ended) - 1
    states, state = np.zeros(end, np.intp), int(ended[end].argmax())
    while end > 0:
        start, other = came[end, state]
        states[start:end] = state
        end, state = int(start), int(other)
    return states
