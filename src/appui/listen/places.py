"""One place heard closely: its small notes with and without, and a trill note by note."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from appui.listen.align import SHORTEST, STRUCK, Aligned, Fitting
from appui.listen.figures import hear_figure
from appui.listen.frames import FRAME_S
from appui.listen.heard import HeardFigure, HeardLine, HeardNotes, HeardTrill
from appui.listen.line import Line, Place
from appui.listen.rising import own_shares, risen_s
from appui.listen.segment import Cut, Node, best_cut, sums_of
from appui.listen.take import Take
from appui.listen.turns import TRILL_FRAMES, trill_states

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["hear"]

#  how far before the main note small notes are looked for, and how far into it, seconds
_BACK_S, _ON_S = 0.7, 3.0
#  how far before the main note strokes of the same pitch are looked for, seconds
_STROKES_S = 2.5
#  a note begun with less is slurred on the same pitch, as far as can be heard
_CLEAR_RISE = 0.35
#  a start counts as clear for the beat where the pitch changes, or the stroke is this clear
_STRUCK_RISE = 0.7
#  the first small note may begin so many frames before it was cut
_SOONER = 18
#  a short trill of so many notes is heard as a trill
_LONG_TRILL = 9
#  of a note that rings under others at least this share of the sound is its own
_LEAST_OWN = 0.05
#  where two notes seem to rise closer together, what was cut counts
_ONE_BY_ONE_S = 0.015
#  how much it counts for a note of a trill that it is most of a frame's sound, against how well the frame fits it; so
#  small a share (of the largest) is none
_MOST_OF_IT, _LITTLE = 0.5, 1e-3
#  how far into the note before a trill may begin, seconds
_INTO_S = 0.3
#  the pace around a note is that from so many steps before it to so many after; a note lasts so much longer at most
_PACE_STEPS, _LONGER = 3, 1.2
#  a key's own level is taken from its plain notes, each against so many on either side; so many are few
_AROUND, _FEW = 6, 2


def hear(line: Line, take: Take, aligned: Aligned) -> HeardLine:
    """Hear every place of the line closely."""
    notes: dict[int, HeardNotes] = {}
    trills: dict[int, HeardTrill] = {}
    figures: dict[int, HeardFigure] = {}
    starts = [each.start for each in aligned.found]
    begun_s = [_begun_s(line, take, aligned, number) for number in range(len(starts))]
    clear = [_clear(line, index, starts, aligned.fitting) for index in range(len(starts))]
    usual = _usual_levels(line, take, aligned)
    for number, place in enumerate(line.places):
        if place.small:
            one, key = _small_notes(line, place, take, aligned), line.steps[place.step].key
            notes[number] = one._replace(
                small_db=one.small_db - usual(place.small[-1]), main_db=one.main_db - usual(key)
            )
            continue
        if place.written is not None:
            figures[number] = hear_figure(line, place, take, aligned)
        if place.upper:
            trill, following = _trill(line, place, take, aligned)
            if place.written is not None and len(trill.starts_s) < _LONG_TRILL:
                continue
            trills[number] = trill
            if place.step + 1 < len(starts):
                begun_s[place.step + 1] = following * FRAME_S if following else begun_s[place.step + 1]
                clear[place.step + 1] = following > 0
    return HeardLine(
        tuple(begun_s),
        tuple(each.end * FRAME_S for each in aligned.found),
        tuple(clear),
        aligned.fit,
        notes,
        trills,
        take.a4_hz,
        take.length_s,
        figures,
    )


def _begun_s(line: Line, take: Take, aligned: Aligned, number: int) -> float:
    """When a step begins, seconds: when its own share of the sound rises, where that is clear."""
    found, step = aligned.found[number], line.steps[number]
    previous = line.steps[number - 1] if number else None
    before = (previous.key, *previous.also) if previous else ()
    small = next((place.small for place in line.places if place.step == number), ())
    earliest = aligned.found[number - 1].start + SHORTEST if number else 0
    return risen_s(take, aligned, step.key, (*before, *small), found.start, earliest, found.end)


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
    with_notes = _cut(fitting, before, place.small, line, place)
    without = max(
        (_cut(fitting, before, other, line, place) for other in _otherwise(line, place)), key=lambda cut: cut.score
    )
    starts = [first + at for at in with_notes.starts]
    count = len(place.small)
    main = starts[2 + count] if place.step else starts[1 + count]
    small = starts[2 : 2 + count] if place.step else starts[1 : 1 + count]
    evidence = with_notes.score - without.score
    if count == 1 and place.small[0] in (before, *([] if place.hidden else [key])):
        # it sounds like its neighbour, so nothing speaks for it but a stroke
        evidence = min(evidence, 0.0)
    main_end = max(main_end, main + SHORTEST)
    small_s, main_s = _closely(line, place, take, aligned, small, main, main_end)
    begun = aligned.found[place.step - 1].start if place.step else 0
    # on one pitch what rings on from the note before is in its first half
    small_part = (small[-1] + main) // 2 if before == place.small[-1] else small[-1], main
    main_part = main, min(main_end, main + max(main - small[-1], 30))
    around = [each for each in (before, *place.small, key) if each is not None]
    return HeardNotes(
        small_s,
        main_s,
        main_end * FRAME_S,
        evidence,
        _level(take, *small_part) + _own_db(take, aligned, place.small[-1], around, *small_part),
        _level(take, *main_part) + _own_db(take, aligned, key, around, *main_part),
        before == place.small[0],
        place.hidden or key == place.small[-1],
        # the stroke of the note before is not the small note's
        _strokes(aligned.fitting, max(main - round(_STROKES_S / FRAME_S), begun + SHORTEST), main_end),
    )


def _otherwise(line: Line, place: Place) -> list[tuple[int, ...]]:
    """What may be heard instead of the small notes: nothing, or another pitch with which the main note may begin.

    Where the main note may begin with their pitches, nothing would sound the same.
    """
    step = line.steps[place.step]
    if not place.hidden or not step.may_begin_with(place.small):
        return [()]
    first_keys = step.first_keys
    return [(key,) for key in first_keys if (key == first_keys[0]) != (place.small[0] == first_keys[0])]


def _before(line: Line, place: Place) -> tuple[int, ...]:
    """The keys of the note before a place: of a trill, whose end the small notes are, without its lower ones."""
    if not place.step:
        return ()
    step = line.steps[place.step - 1]
    return step.keys if place.small[0] in step.first_keys else step.first_keys


def _closely(
    line: Line, place: Place, take: Take, aligned: Aligned, small: Sequence[int], main: int, main_end: int
) -> tuple[tuple[float, ...], float]:
    """When the small notes and the main note begin, seconds: when the share of each rises."""
    before = _before(line, place)
    keys, at = [*place.small, line.steps[place.step].key], [*small, main]
    ends = [*at[1:], main_end]
    out: list[float] = []
    for number, key in enumerate(keys):
        # what rings is the note before the place, until two small notes have come
        others = (*before, *keys[:number]) if number < 2 else keys[number - 2 : number]
        earliest = round(out[-1] / FRAME_S) + SHORTEST - 1 if out else max(at[0] - _SOONER, 0)
        out.append(risen_s(take, aligned, key, others, at[number], earliest, ends[number]))
    if min(pair[1] - pair[0] for pair in pairwise(out)) < _ONE_BY_ONE_S:
        out = [each * FRAME_S for each in at]
    return tuple(out[:-1]), out[-1]


def _strokes(fitting: Fitting, first: int, last: int) -> tuple[tuple[float, float], ...]:
    """The moments in a stretch where something is struck, each with how clear it is, none within 30 ms of a clearer."""
    import numpy as np

    first, last = max(first, 0), min(last, len(fitting.rise))
    rise = fitting.rise[first:last]
    found: list[tuple[int, float]] = []
    for at in np.flatnonzero(rise > _CLEAR_RISE):
        near = rise[max(at - SHORTEST, 0) : at + SHORTEST + 1]
        if rise[at] == near.max() and not (found and at - found[-1][0] <= SHORTEST):
            found.append((int(at), float(rise[at])))
    return tuple(((first + at) * FRAME_S, size) for at, size in found)


def _window(line: Line, place: Place, aligned: Aligned) -> tuple[int, int, int]:
    """From which frame to which a place is looked at: from within the note before to within the main note."""
    found = aligned.found[place.step]
    begun = found.begun
    previous = aligned.found[place.step - 1].start if place.step else begun - round(_BACK_S / FRAME_S)
    first = max(previous, begun - round(_BACK_S / FRAME_S), 0)
    following = aligned.found[place.step + 1].start if place.step + 1 < len(aligned.found) else found.end
    end = max(found.end, found.start + 2 * SHORTEST)
    end = min(end, max(following, found.start + 2 * SHORTEST))
    last = min(end, found.start + round(_ON_S / FRAME_S), len(aligned.fitting.anything))
    needed = SHORTEST * (len(place.small) + 3)
    return min(first, max(last - needed, 0)), last, end


def _cut(fitting: Fitting, before: int | None, small: Sequence[int], line: Line, place: Place) -> Cut:
    """The window cut into what precedes, silence perhaps, the small notes and the main note."""
    struck = STRUCK * fitting.rise
    silence = sums_of(fitting.silence)
    nodes: list[Node] = []
    if before is None:
        nodes.append(Node(silence, (-1,), 0))
        ways: tuple[int, ...] = (0,)
    else:
        nodes += [Node(sums_of(fitting.best_of(_before(line, place))), (-1,), 0), Node(silence, (0,), 4)]
        ways = (0, 1)
    for each in small:
        nodes.append(Node(sums_of(fitting.row(each)), ways, SHORTEST, struck))
        ways = (len(nodes) - 1,)
    main = line.steps[place.step]
    row = fitting.best_of(main.first_keys) if place.hidden else fitting.of(main)
    nodes.append(Node(sums_of(row), ways, SHORTEST, struck))
    nodes.append(Node(silence, (len(nodes) - 1,), 4))
    return best_cut(nodes, silence, [len(nodes) - 2, len(nodes) - 1], free=False)


def _usual_levels(line: Line, take: Take, aligned: Aligned) -> Callable[[int], float]:
    """How much louder a key sounds than its surroundings in this take: no two notes of an instrument are alike.

    From the plain notes, each against those around it; of a key heard seldom, less.
    """
    import numpy as np

    plain = [number for number, step in enumerate(line.steps) if step.plain]
    levels = np.array([_level(take, aligned.found[number].start, aligned.found[number].end) for number in plain])
    off: dict[int, list[float]] = {}
    for at, number in enumerate(plain):
        around = levels[max(at - _AROUND, 0) : at + _AROUND + 1]
        off.setdefault(line.steps[number].key, []).append(float(levels[at] - np.median(around)))
    usual = {key: sum(each) / (len(each) + _FEW) for key, each in off.items()}
    return lambda key: usual.get(key, 0.0)


def _level(take: Take, first: int, last: int) -> float:
    """The level of a note in dB: of its louder half, without its edges."""
    import numpy as np

    part = take.level_db[slice(*_inner(first, last))]
    return float(np.quantile(part, 0.7)) if len(part) else float("nan")


def _own_db(take: Take, aligned: Aligned, key: int, around: Sequence[int], first: int, last: int) -> float:
    """How much of the level of a stretch is a note's own, dB, 0 or less: the rest is what rings on around it."""
    if len(set(around)) < 2:
        return 0.0
    shares = own_shares(take, aligned, key, around, *_inner(first, last))
    if shares is None:
        return 0.0
    power = (shares**2).sum(axis=1)
    own = float(power[0]) / max(float(power.sum()), 1e-12)
    return 10 * math.log10(max(own, _LEAST_OWN))


def _inner(first: int, last: int) -> tuple[int, int]:
    """A note without its edges, a frame of it at least."""
    edge = min((last - first) // 5, 8)
    return first + edge, max(last - edge, first + edge + 1)


def _trill(line: Line, place: Place, take: Take, aligned: Aligned) -> tuple[HeardTrill, int]:
    """The notes of a trill, in turn as fits best, and the frame where the next full-size note begins (0: not clear).

    The stretch reaches from within the note before to the end of the note after, which have their own keys; but not
    into one that has a trill or turn itself: which notes are whose is then known only by where the line has the two.
    """
    import numpy as np

    found, steps, at = aligned.found, line.steps, place.step
    own = [key for key in (steps[at].key, place.upper, *steps[at].also) if key in aligned.fitting.keys]
    before = steps[at - 1].key if at and found[at - 1].end >= found[at].start - 2 else 0
    after = steps[at + 1].key if at + 1 < len(steps) and found[at + 1].start <= found[at].end + 2 else 0
    led_to = any(other.step == at and set(other.small) & set(own) for other in line.places)
    held = before in (steps[at].key, place.upper) or led_to
    if held or not before or steps[at - 1].also:
        first = found[at].start
    else:
        first = max(found[at - 1].start, found[at].start - round(_INTO_S / FRAME_S))
    if not after or steps[at + 1].also:
        after, last = 0, min(found[at].end, found[at].start + _lasts(line, aligned, at))
    else:
        last = found[at + 1].end
    keys = list(dict.fromkeys([*own, *(key for key in (before, after) if key)]))
    if last - first < 2 * TRILL_FRAMES:
        return HeardTrill((), (), last * FRAME_S), 0
    rows = _rows_of(take, aligned, keys, first, last)
    states = trill_states(rows, keys.index(place.upper), keys.index(steps[at].key))
    runs = [0, *(np.flatnonzero(np.diff(states)) + 1)]
    if before and not held:
        while runs and keys[states[runs[0]]] == before:
            runs.pop(0)
    following = 0
    if after and runs and keys[states[runs[-1]]] == after:
        following = first + int(runs.pop())
    end = following or min(found[at].end, last)
    starts = tuple((first + int(run)) * FRAME_S for run in runs if first + run < end)
    return HeardTrill(
        starts, tuple(keys[states[run]] for run in runs[: len(starts)]), end * FRAME_S, held, led_to
    ), following


def _rows_of(take: Take, aligned: Aligned, keys: Sequence[int], first: int, last: int) -> NDArray[np.float32]:
    """How well each key fits some frames, a row a key; of several that ring, what is most of the sound fits best."""
    import numpy as np

    rows = np.stack([aligned.fitting.row(key)[first:last] for key in keys])
    shares = own_shares(take, aligned, keys[0], keys[1:], first, last)
    if shares is None:
        return rows
    little = _LITTLE * float(shares.max(initial=0.0)) + 1e-12
    most = np.log((shares + little) / (shares.sum(axis=0) + little))
    return np.asarray(rows + _MOST_OF_IT * most, np.float32)


def _lasts(line: Line, aligned: Aligned, number: int) -> int:
    """How many frames a step lasts at most, by the pace around it: what is printed as a rest after it is none of it."""
    steps, found = line.steps, aligned.found
    first, last = max(number - _PACE_STEPS, 0), min(number + _PACE_STEPS, len(steps) - 1)
    if steps[last].onset_q <= steps[first].onset_q:
        return len(aligned.fitting.anything)
    frames = (found[last].start - found[first].start) / float(steps[last].onset_q - steps[first].onset_q)
    return max(round(_LONGER * frames * float(steps[number].length_q)), 2 * TRILL_FRAMES)
