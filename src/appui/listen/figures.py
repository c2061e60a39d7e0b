"""A turn, a mordent, a short trill, a slide: which few notes were played around a main note, and when each begins.

The trade has few forms (`FORMS`, `SLIDES`), each with neighbours a half or a whole tone away. The stretch from within
the note before to within the note after is cut into each form in turn (`appui.listen.segment`), and into the main note
alone; the form that fits best is the one heard, and how much better it fits than the others says how sure that is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, product
from typing import TYPE_CHECKING, NamedTuple

from appui.listen.align import SHORTEST, Aligned
from appui.listen.frames import FRAME_S
from appui.listen.heard import HeardFigure
from appui.listen.line import Line, Place
from appui.listen.rising import risen_s
from appui.listen.segment import Hint, Node, best_cut, sums_of
from appui.listen.take import Take
from appui.score.words import SignKind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Row = NDArray[np.float64]

__all__ = ["FORMS", "SLIDES", "form_of", "forms_for", "hear_figure", "is_usual", "reach_of"]

#  letter steps from the main note, which comes to rest at the end: the name of the form (common practice, no source)
FORMS: dict[tuple[int, ...], str] = {
    (1, 0, -1, 0): "turn",
    (0, 1, 0, -1, 0): "turn from the main note",
    (-1, 0, 1, 0): "inverted turn",
    (0, -1, 0, 1, 0): "inverted turn from the main note",
    (0, -1, 0): "mordent",
    (0, -1, 0, -1, 0): "double mordent",
    (0, -1, 0, -1, 0, -1, 0): "long mordent",
    (-1, 0): "lower note",
    (-1, 0, -1, 0): "double mordent from the lower note",
    (0, 1, 0): "short trill",
    (0, 1, 0, 1, 0): "short trill",
    (0, 1, 0, 1, 0, 1, 0): "short trill",
    (1, 0): "upper note",
    (1, 0, 1, 0): "short trill from above",
    (1, 0, 1, 0, 1, 0): "short trill from above",
}
#  the same of a slide, two steps being a third
SLIDES: dict[tuple[int, ...], str] = {
    (-2, -1, 0): "slide",
    (2, 1, 0): "slide downwards",
    (-1, 0, 1, 0): "slide of three notes",
    (1, 0, -1, 0): "slide of three notes downwards",
    (-1, 0): "lower note",
    (1, 0): "upper note",
}
#  the words that forms usual for a sign have in their names; other forms must speak the more clearly
_USUAL = {
    "mordent": ("mordent", "lower note"),
    "short trill": ("short trill", "upper note"),
    "haydn ornament": ("",),
    "slide": ("slide",),
}
_UNUSUAL = 9.0
#  what it costs that the neighbours are not those decided
_OTHERWISE = 3.0
#  what it costs that a note beside the place has the place's own pitch, a frame
_OWN = 1.5
#  how many semitones a second and a third are
_NEIGHBOURS = {1: (1, 2), 2: (3, 4)}
#  how far before the main note, and how far into the next, it is looked (seconds)
_BACK_S, _INTO_S = 0.7, 0.3
#  where the note after is expected, against where the line has it (frames), and what it may lose
_WIDE, _MOST = 10, 4
#  a note of the pitch before it is there where it is struck so clearly
_CLEAR = 1.0
#  and where it fits so much better with it
_STRUCK_FIRST = 6.0
#  what a note more costs, in the currency of `spectra.fits`
_NOTE = 3.0
#  what a clear stroke is worth where a note begins: less than elsewhere, since quick notes are mostly slurred
_STROKE = 2.5
#  a quick note lasts about so long and at most so long (seconds); what it costs to be longer or shorter is so much
#  times the square of the natural logarithm of how many times
_USUAL_S, _LONGEST_S, _SHORTER, _LONGER = 0.08, 0.35, 12.0, 6.0
#  the main note at the beginning may be held, and costs no more than this
_HELD = 3.0
#  what uneven quick notes cost: so much times the square of the natural logarithm of how many times, and at most
_UNEVEN, _UNEVEN_MOST = 6.0, 20.0
#  a silence between notes of fewer frames is none
_SILENCE = 4
#  where two notes seem to rise closer together, what was cut counts
_ONE_BY_ONE_S = 0.015


class _Row(NamedTuple):
    """A row of notes cut: their keys, where each begins and where the last ends (frames), and how well it fits."""

    steps: tuple[int, ...]
    keys: tuple[int, ...]
    starts: tuple[int, ...]
    end: int
    score: float


def hear_figure(line: Line, place: Place, take: Take, aligned: Aligned) -> HeardFigure:
    """Hear the notes of a figure."""
    key = line.steps[place.step].key
    stretch = _Stretch(line, place, aligned)
    before = line.steps[place.step - 1].key if place.step else 0
    decided, known = {*place.decided.notes, key}, {key, *line.steps[place.step].also}
    cuts = [stretch.cut(*form) for form in _forms(place.sign.kind, key, decided & known)]
    # a first note of the pitch before it makes no sound of its own, unless it is struck
    cuts = [row for row in cuts if row.keys[0] != before or stretch.struck_at(row.starts[0])]
    rows = sorted((_less(row, place, decided) for row in cuts), key=lambda row: -row.score)
    best, plain = _without_first(rows, before), stretch.cut((0,), (key,))
    others = (row for row in rows if row.steps != best.steps and row.keys != (before, *best.keys))
    other = next((row.score for row in others), plain.score)
    near = next((row.score for row in rows if row.steps == best.steps and row.keys != best.keys), best.score - 99)
    starts_s = _closely(line, place, take, aligned, best)
    return HeardFigure(
        starts_s,
        best.keys,
        best.end * FRAME_S,
        best.score - plain.score,
        best.score - other,
        best.score - near,
        plain.starts[0] * FRAME_S,
    )


def forms_for(kind: SignKind) -> dict[tuple[int, ...], str]:
    """The forms a sign may have."""
    return SLIDES if kind == "slide" else FORMS


def reach_of(kind: SignKind) -> int:
    """How many semitones from its main note a note of a figure may be, as far as nothing else is decided."""
    return _NEIGHBOURS[2 if kind == "slide" else 1][-1]


def form_of(keys: Sequence[int], kind: SignKind) -> tuple[int, ...]:
    """The letter steps of keys around the last, the main note; three semitones are a third in a slide only.

    >>> form_of((74, 72, 71, 72), "turn"), form_of((69, 71, 72), "slide")
    ((1, 0, -1, 0), (-2, -1, 0))
    """
    away = [key - keys[-1] for key in keys]
    return tuple(((each > 0) - (each < 0)) * (2 if kind == "slide" and abs(each) > 2 else 1) for each in away)


def _forms(kind: SignKind, key: int, decided: set[int]) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Every form on a main note, its neighbours as far away as seconds and thirds are, or as decided."""
    above = {step: {step * each // abs(step) for each in _NEIGHBOURS[abs(step)]} for step in (-2, -1, 1, 2)}
    for each in decided - {key}:
        above[form_of((each, key), kind)[0]].add(each - key)
    for steps in forms_for(kind):
        kinds = sorted(set(steps) - {0})
        for away in product(*(sorted(above[step]) for step in kinds)):
            moved = {0: 0} | dict(zip(kinds, away, strict=True))
            yield steps, tuple(key + moved[step] for step in steps)


def _without_first(rows: Sequence[_Row], before: int) -> _Row:
    """The row that fits best; where its first note is on the pitch before it, and hardly adds to it, the rest of it."""
    best = rows[0]
    if best.keys[0] == before:
        rest = next((row for row in rows if row.keys == best.keys[1:]), None)
        if rest is not None and best.score - rest.score < _STRUCK_FIRST:
            return rest
    return best


def is_usual(kind: SignKind, steps: tuple[int, ...]) -> bool:
    """Whether a form is usual for a sign.

    >>> is_usual("turn after", (0, 1, 0, -1, 0)), is_usual("mordent", (1, 0, -1, 0))
    (True, False)
    """
    return any(word in forms_for(kind)[steps] for word in _USUAL.get(kind, ("turn",)))


def _less(row: _Row, place: Place, decided: set[int]) -> _Row:
    """A row of a form that is not usual for the sign, or with neighbours that are not decided, fits less well."""
    lost = _UNUSUAL * (not is_usual(place.sign.kind, row.steps))
    sides = {key > row.keys[-1] for key in decided - {row.keys[-1]}}
    lost += _OTHERWISE * any(key not in decided and (key > row.keys[-1]) in sides for key in row.keys)
    return row._replace(score=row.score - lost)


class _Stretch:
    """The frames around a place, to be cut into rows of notes; a rest before or after may be silent."""

    def __init__(self, line: Line, place: Place, aligned: Aligned) -> None:
        found, number = aligned.found, place.step
        self.first = found[number - 1].start if number else 0
        self.first = max(self.first, found[number].start - round(_BACK_S / FRAME_S), 0)
        self.line, self.number = line, number
        following = found[number + 1] if number + 1 < len(found) else None
        last = found[number].end if following is None else following.start + round(_INTO_S / FRAME_S)
        if following is not None:
            last = min(last, max(following.end, following.start + 2 * SHORTEST))
        last = min(max(last, self.first + 12 * SHORTEST), len(aligned.fitting.anything))
        self.fitting = aligned.fitting.part(self.first, last)
        self.silence = sums_of(self.fitting.silence)
        self.struck: Row = _STROKE * self.fitting.rise
        self.rows: dict[int, Row] = {}
        self.costs = _costs(last - self.first)
        self.before = self._around(number - 1, number) if number else None
        self.after = self._around(number + 1) if following is not None else None
        self.expected = following.start - self.first if following is not None else 0

    def _around(self, number: int, *also: int) -> Row:
        """A neighbouring step, with the small notes that may stand before it, and before the steps `also`."""
        import numpy as np

        step, own = self.line.steps[number], self.line.steps[self.number].key
        keys = {step.key, *step.also}
        keys |= {key for each in self.line.places if each.step in (number, *also) for key in each.small}
        away = [_OWN * (key == own != step.key) for key in keys]
        rows = [self.fitting.row(key) - lost for key, lost in zip(keys, away, strict=True) if key in self.fitting.keys]
        return sums_of(np.maximum.reduce(rows))

    def _of(self, key: int) -> Row:
        if key not in self.rows:
            self.rows[key] = sums_of(self.fitting.row(key))
        return self.rows[key]

    def struck_at(self, frame: int) -> bool:
        """Whether a note begins clearly here, by its stroke."""
        at = frame - self.first
        return float(self.fitting.rise[max(at - 3, 0) : at + 4].max(initial=0.0)) >= _CLEAR

    def cut(self, steps: tuple[int, ...], keys: tuple[int, ...]) -> _Row:
        """The stretch cut into what precedes, these notes, and what follows."""
        nodes = [Node(self.silence, (-1,), 0)]
        if self.before is not None:
            nodes = [Node(self.before, (-1,), 0), Node(self.silence, (0,), _SILENCE)]
        ways = tuple(range(len(nodes)))
        at = len(nodes)
        for number, key in enumerate(keys):
            rests, held = number == len(keys) - 1, not number and not steps[0]
            costs = self.costs.rests if rests else self.costs.held if held else self.costs.quick
            nodes.append(Node(self._of(key), ways, SHORTEST, self.struck, costs=costs))
            ways = (len(nodes) - 1,)
        nodes.append(Node(self.silence, ways, _SILENCE))
        if self.after is not None:
            hint = Hint(self.expected, _WIDE, _MOST)
            nodes.append(Node(self.after, (len(nodes) - 2, len(nodes) - 1), SHORTEST, self.struck, hint))
            last = [len(nodes) - 1]
        else:
            last = [len(nodes) - 2, len(nodes) - 1]
        found = best_cut(nodes, self.silence, last, free=False)
        starts = tuple(self.first + each for each in found.starts[at : at + len(keys)])
        end = self.first + found.ends[at + len(keys) - 1]
        return _Row(steps, keys, starts, end, found.score - _NOTE * len(keys) - _uneven(starts, steps))


class _Costs(NamedTuple):
    """What a note costs by its length: a quick one, a main note that may be held, the main note at rest."""

    quick: Row
    held: Row
    rests: Row


def _costs(frames: int) -> _Costs:
    import numpy as np

    lengths = np.arange(SHORTEST, max(frames, SHORTEST + 1)) * FRAME_S
    away = np.log(lengths / _USUAL_S)
    every = np.where(away < 0, _SHORTER, _LONGER) * away**2
    quick = every[lengths <= _LONGEST_S]
    return _Costs(quick, np.minimum(every, _HELD), np.where(lengths < _USUAL_S, every, 0.0))


def _uneven(starts: Sequence[int], steps: tuple[int, ...]) -> float:
    """What it costs that the quick notes are not equally long; a main note at the beginning may be held."""
    import numpy as np

    lengths = np.diff(starts)[steps[0] == 0 :].astype(float)
    if len(lengths) < 2:
        return 0.0
    away = np.log(lengths / np.median(lengths))
    return float(np.minimum(_UNEVEN * away**2, _UNEVEN_MOST).sum())


def _closely(line: Line, place: Place, take: Take, aligned: Aligned, row: _Row) -> tuple[float, ...]:
    """When each note of a figure begins, seconds: when its share rises over that of the notes before it."""
    step = line.steps[place.step - 1] if place.step else None
    ringing = ((step.key, *step.also) if step else ()), *((key,) for key in row.keys)
    ends = [*row.starts[1:], row.end]
    out: list[float] = []
    for number, key in enumerate(row.keys):
        others = {each for part in ringing[max(number - 1, 0) : number + 1] for each in part} - {key}
        if number == 0 and step is not None and step.key == key:
            out.append(row.starts[0] * FRAME_S)
            continue
        earliest = round(out[-1] / FRAME_S) + SHORTEST - 1 if out else max(row.starts[0] - 3 * SHORTEST, 0)
        out.append(risen_s(take, aligned, key, sorted(others), row.starts[number], earliest, ends[number]))
    if min((later - earlier for earlier, later in pairwise(out)), default=1.0) < _ONE_BY_ONE_S:
        return tuple(each * FRAME_S for each in row.starts)
    return tuple(out)
