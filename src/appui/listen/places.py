"""One place heard closely: its small notes with and without, and a trill note by note."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from appui.listen.align import SHORTEST, STRUCK, Aligned, Fitting
from appui.listen.heard import HeardLine, HeardNotes, HeardTrill
from appui.listen.line import Line, Place
from appui.listen.segment import Cut, Node, best_cut, sums_of
from appui.listen.take import FRAME_S, Take

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["hear"]

#  how far before the main note small notes are looked for, and how far into it, seconds
_BACK_S, _ON_S = 0.7, 3.0
#  a note begun with less is slurred on the same pitch, as far as can be heard
_CLEAR_RISE = 0.35
#  a start counts as clear for the beat where the pitch changes, or the stroke is this clear
_STRUCK_RISE = 0.7
#  a trill's note lasts at least so long, and to change it costs as much as a few frames that fit badly
_TRILL_FRAMES, _CHANGE = 6, 3.0


def hear(line: Line, take: Take, aligned: Aligned) -> HeardLine:
    """Hear every place of the line closely."""
    notes: dict[int, HeardNotes] = {}
    trills: dict[int, HeardTrill] = {}
    for number, place in enumerate(line.places):
        if place.small:
            notes[number] = _small_notes(line, place, take, aligned)
        elif place.upper:
            trills[number] = _trill(line, place, aligned)
    starts = [each.start for each in aligned.found]
    return HeardLine(
        tuple(start * FRAME_S for start in starts),
        tuple(each.end * FRAME_S for each in aligned.found),
        tuple(_clear(line, index, starts, aligned.fitting) for index in range(len(starts))),
        aligned.fit,
        notes,
        trills,
        take.a4_hz,
        take.length_s,
        aligned.notices,
    )


def _clear(line: Line, index: int, starts: Sequence[int], fitting: Fitting) -> bool:
    """Whether a step's start can be heard: a new pitch, a clear stroke, or sound after silence."""
    if index == 0 or line.steps[index - 1].key != line.steps[index].key:
        return True
    return _rise_at(fitting, starts[index]) >= _STRUCK_RISE


def _rise_at(fitting: Fitting, frame: int) -> float:
    return float(fitting.rise[max(frame - 3, 0) : frame + 4].max(initial=0.0))


def _small_notes(line: Line, place: Place, take: Take, aligned: Aligned) -> HeardNotes:
    first, last, main_end = _window(line, place, aligned)
    fitting = aligned.fitting.part(first, last)
    key = line.steps[place.step].key
    before = line.steps[place.step - 1].key if place.step else None
    with_notes = _cut(fitting, before, place.small, key, line, place)
    without = _cut(fitting, before, (), key, line, place)
    starts = [first + at for at in with_notes.starts]
    count = len(place.small)
    main = starts[2 + count] if place.step else starts[1 + count]
    small = starts[2 : 2 + count] if place.step else starts[1 : 1 + count]
    evidence = with_notes.score - without.score
    if place.small[-1] == key or place.small[0] == before:
        evidence = min(evidence, 0.0)
    main_end = max(main_end, main + SHORTEST)
    return HeardNotes(
        tuple(at * FRAME_S for at in small),
        main * FRAME_S,
        main_end * FRAME_S,
        evidence,
        _level(take, small[-1], main),
        _level(take, main, min(main_end, main + max(main - small[-1], 30))),
        _rise_at(aligned.fitting, small[0]) if before == place.small[0] else float("nan"),
        _rise_at(aligned.fitting, main) if key == place.small[-1] else float("nan"),
    )


def _window(line: Line, place: Place, aligned: Aligned) -> tuple[int, int, int]:
    """From which frame to which a place is looked at: from within the note before to within the main note."""
    found = aligned.found[place.step]
    begun = min([found.start, *[at for at in found.small if at >= 0]])
    previous = aligned.found[place.step - 1].start if place.step else begun - round(_BACK_S / FRAME_S)
    first = max(previous, begun - round(_BACK_S / FRAME_S), 0)
    following = aligned.found[place.step + 1].start if place.step + 1 < len(aligned.found) else found.end
    end = max(found.end, found.start + 2 * SHORTEST)
    end = min(end, max(following, found.start + 2 * SHORTEST))
    last = min(end, found.start + round(_ON_S / FRAME_S), len(aligned.fitting.anything))
    needed = SHORTEST * (len(place.small) + 3)
    return min(first, max(last - needed, 0)), last, end


def _cut(
    fitting: Fitting, before: int | None, small: Sequence[int], key: int, line: Line, place: Place
) -> Cut:
    """The window cut into what precedes, silence perhaps, the small notes and the main note."""
    struck = STRUCK * fitting.rise
    silence = sums_of(fitting.silence)
    nodes: list[Node] = []
    if before is None:
        nodes.append(Node(silence, (-1,), 0))
        ways: tuple[int, ...] = (0,)
    else:
        step = line.steps[place.step - 1]
        nodes += [Node(sums_of(fitting.of(step)), (-1,), 0), Node(silence, (0,), 4)]
        ways = (0, 1)
    for each in small:
        nodes.append(Node(sums_of(fitting.row(each)), ways, SHORTEST, struck))
        ways = (len(nodes) - 1,)
    nodes.append(Node(sums_of(fitting.of(line.steps[place.step])), ways, SHORTEST, struck))
    nodes.append(Node(silence, (len(nodes) - 1,), 4))
    return best_cut(nodes, silence, [len(nodes) - 2, len(nodes) - 1], free=False)


def _level(take: Take, first: int, last: int) -> float:
    """The level of a note in dB: of its louder half, without its edges."""
    import numpy as np

    edge = min((last - first) // 5, 8)
    part = take.level_db[first + edge : max(last - edge, first + edge + 1)]
    return float(np.quantile(part, 0.7)) if len(part) else float("nan")


def _trill(line: Line, place: Place, aligned: Aligned) -> HeardTrill:
    """The notes of a trill: main note, upper note or the one below in turn, as fits best."""
    import numpy as np

    found, step = aligned.found[place.step], line.steps[place.step]
    key = step.key
    keys = [key, place.upper, *[low for low in (key - 1, key - 2) if low in aligned.fitting.keys]]
    rows = np.stack([aligned.fitting.row(each)[found.start : found.end] for each in keys])
    if rows.shape[1] < 2 * _TRILL_FRAMES:
        return HeardTrill((), (), found.end * FRAME_S)
    states = _turns(rows)
    changes = np.flatnonzero(np.diff(states)) + 1
    starts = np.concatenate([[0], changes])
    return HeardTrill(
        tuple((found.start + int(at)) * FRAME_S for at in starts),
        tuple(keys[states[at]] for at in starts),
        found.end * FRAME_S,
    )


def _turns(rows: NDArray[np.float32]) -> NDArray[np.intp]:
    """Which row fits at each frame, none for fewer than `_TRILL_FRAMES` at a time."""
    import numpy as np

    count, length = rows.shape
    sums = np.concatenate([np.zeros((count, 1)), np.cumsum(rows, axis=1, dtype=np.float64)], axis=1)
    ended = np.full((length + 1, count), -np.inf)
    came = np.zeros((length + 1, count, 2), np.intp)
    best_gain, best_at = np.full(count, -np.inf), np.zeros((count, 2), np.intp)
    for end in range(_TRILL_FRAMES, length + 1):
        start = end - _TRILL_FRAMES
        for state in range(count):
            others = [other for other in range(count) if other != state]
            origin = max(others, key=lambda other: ended[start, other]) if start else state
            gain = (ended[start, origin] - _CHANGE if start else 0.0) - sums[state, start]
            if gain > best_gain[state]:
                best_gain[state], best_at[state] = gain, (start, origin)
            ended[end, state] = sums[state, end] + best_gain[state]
            came[end, state] = best_at[state]
    states = np.zeros(length, np.intp)
    end, state = length, int(ended[length].argmax())
    while end > 0:
        start, origin = came[end, state]
        states[start:end] = state
        end, state = int(start), int(origin)
    return states
