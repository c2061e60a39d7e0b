"""Everything the score has at each moment, the solo and the others, and where it is in a recording, roughly.

Every stretch between two onsets is one slice, with the keys of the solo and of the others that sound in it. Slices are
found in the recording in steps of 46 ms by the harmonics of their keys. The same with the solo's keys only says which
of the two the recording is: the solo alone, or the solo with the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.interpret.realizing import realize
from appui.listen.align import COARSE, loud_span
from appui.listen.frames import FRAME_S
from appui.listen.line import Line, nominal_seconds
from appui.listen.segment import BLOCK, Hint, Node, best_cut, sums_of
from appui.listen.spectra import fits, guessed
from appui.listen.take import Take
from appui.perform.touch import join_ties
from appui.score.repeats import Occurrence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Matrix = NDArray[np.float32]
    Row = NDArray[np.float64]
    Spectrum = NDArray[np.float16]

__all__ = ["Located", "Slice", "located", "slices_of"]

#  the solo is the louder, and its spectrum counts so many times that of another part
_SOLO = 2.0
#  so much of a recording is noise, evenly everywhere
_FLOOR = 0.25
#  sound that none of the slices explains costs so much a frame, and silence outside them gains as much
_OUTSIDE, _QUIET_DB = 3.0, 30.0
#  the keys of the solo and of the others
_Kind = tuple[frozenset[int], frozenset[int]]
#  a slice of nothing: noise, evenly everywhere
_NOTHING: _Kind = (frozenset(), frozenset())


class Slice(NamedTuple):
    """A stretch in which no note begins: where the score's own tempo has it (s), the keys of solo and others."""

    nominal_s: float
    end_s: float
    solo: frozenset[int]
    others: frozenset[int]


class Located(NamedTuple):
    """Where each slice begins (s); how well the slices fit a frame, in the mean; how well the whole fits.

    The larger, the better; both compare readings of one take, and say nothing of two takes.
    """

    starts_s: list[float]
    fit: float
    score: float


class _Note(NamedTuple):
    begin_q: Fraction
    end_q: Fraction
    key: int


def slices_of(interpretation: Interpretation, order: Sequence[Occurrence], line: Line) -> list[Slice]:
    """The slices of these bars in order; of small notes and signs the keys that may sound within their note."""
    solo = [
        _Note(step.onset_q, step.onset_q + step.length_q, key) for step in line.steps for key in (step.key, *step.also)
    ]
    solo += [
        _Note(line.steps[place.step].onset_q, line.steps[place.step].onset_q + line.steps[place.step].length_q, key)
        for place in line.places
        for key in place.small
    ]
    others = _others(interpretation, order)
    if not others:
        return []
    moments = sorted({max(note.begin_q, Fraction(0)) for note in (*solo, *others)})
    moments.append(max(note.end_q for note in (*solo, *others)))
    seconds = nominal_seconds(interpretation, order)
    at = [seconds(moment) for moment in moments]
    return [
        Slice(at[number], at[number + 1], _sounding(solo, begin, end), _sounding(others, begin, end))
        for number, (begin, end) in enumerate(pairwise(moments))
        if end > begin
    ]


def _others(interpretation: Interpretation, order: Sequence[Occurrence]) -> list[_Note]:
    """The notes of all parts but the solo's."""
    parts = [part.index for part in interpretation.score.parts if part.index != interpretation.solo.index]
    tones = realize(interpretation, order, None, parts).tones if parts else {}
    return [
        _Note(tone.onset_q, tone.end_q, round(tone.pitch.midi))
        for index in parts
        for tone in join_ties(tones.get(index, []))
    ]


def _sounding(notes: Sequence[_Note], begin_q: Fraction, end_q: Fraction) -> frozenset[int]:
    return frozenset(note.key for note in notes if note.begin_q < end_q and note.end_q > begin_q)


def located(slices: Sequence[Slice], take: Take, *, alone: bool = False) -> Located:
    """Find the slices in the take; `alone` listens for the solo's keys only."""
    count = len(take.spectrum) // COARSE
    gains = _Gains(slices, take.spectrum[: count * COARSE], alone=alone)
    nodes = [
        Node(partial(gains.sums, number), (number - 1,), 1, hint=hint)
        for number, hint in enumerate(_expected(slices, take))
    ]
    cut = best_cut(nodes, sums_of(gains.nothing() + _outside(take, count)), [len(nodes) - 1])
    total, frames = 0.0, 0
    for number, (start, end) in enumerate(zip(cut.starts, cut.ends, strict=True)):
        total, frames = total + float(gains.row(number)[start:end].sum()), frames + end - start
    return Located([start * COARSE * FRAME_S for start in cut.starts], total / frames / COARSE, cut.score)


def _outside(take: Take, count: int) -> Row:
    """What a coarse frame before the first and after the last slice costs, or gains where it is quiet."""
    import numpy as np

    level_db = take.level_db[: count * COARSE].reshape(count, COARSE).max(axis=1)
    quiet = level_db < np.quantile(take.level_db, 0.9) - _QUIET_DB
    return COARSE * np.where(quiet, _OUTSIDE, -_OUTSIDE)


def _expected(slices: Sequence[Slice], take: Take) -> list[Hint]:
    """Where an even tempo has each slice, in coarse frames."""
    span, last_s = loud_span(take), slices[-1].end_s
    at = [span.first + each.nominal_s / last_s * (span.last - span.first) for each in slices]
    return [Hint(each / COARSE, span.wide / COARSE / sqrt(2)) for each in at]


def _kinds_of(each: Slice, *, alone: bool) -> list[_Kind]:
    """What may sound in a slice: with the others one key of the solo after another, in a trill and with small notes."""
    others = frozenset() if alone else each.others
    return [(frozenset({key}), others) for key in sorted(each.solo)] or [(frozenset(), others)]


class _Gains:
    """How well every coarse frame fits each slice, made for some slices at a time: all would take a gigabyte."""

    def __init__(self, slices: Sequence[Slice], spectrum: Spectrum, *, alone: bool) -> None:
        import numpy as np

        self._kinds = [_kinds_of(each, alone=alone) for each in slices]
        pooled = spectrum.reshape(len(spectrum) // COARSE, COARSE, -1).mean(axis=1, dtype=np.float32)
        self._pooled = pooled.astype(np.float16)
        self._known: tuple[int, dict[_Kind, NDArray[np.float32]]] = (-1, {})

    def row(self, number: int) -> Row:
        """How well every coarse frame fits a slice: the best of the keys that the solo may have in it."""
        import numpy as np

        block = number // BLOCK
        if block != self._known[0]:
            these = self._kinds[block * BLOCK : (block + 1) * BLOCK]
            self._known = block, self._rows([kind for kinds in these for kind in kinds])
        rows = [self._known[1][kind] for kind in self._kinds[number]]
        best: Row = np.maximum.reduce(rows).astype(np.float64)
        return COARSE * best

    def sums(self, number: int) -> Row:
        """The running sums of the same."""
        return sums_of(self.row(number))

    def nothing(self) -> Row:
        """How well every coarse frame fits nothing in particular."""
        import numpy as np

        return COARSE * self._rows([_NOTHING])[_NOTHING].astype(np.float64)

    def _rows(self, kinds: Sequence[_Kind]) -> dict[_Kind, NDArray[np.float32]]:
        different = list(dict.fromkeys(kinds))
        rows = fits(self._pooled, _spectra(different, self._pooled.shape[1]))
        return dict(zip(different, rows, strict=True))


def _spectra(kinds: Sequence[_Kind], bins: int) -> Matrix:
    """A spectrum for each pair of keys of the solo and of the others; even for neither."""
    import numpy as np

    keys = sorted({key for kind in kinds for part in kind for key in part})
    by_key = dict(zip(keys, guessed(keys, bins), strict=True)) if keys else {}
    rows = np.full((len(kinds), bins), 1 / bins, np.float32)
    for number, (solo, others) in enumerate(kinds):
        parts = [_SOLO * by_key[key] / len(solo) for key in solo] + [by_key[key] / len(others) ** 0.5 for key in others]
        if parts:
            total = np.sum(parts, axis=0)
            rows[number] = (1 - _FLOOR) * total / total.sum() + _FLOOR / bins
    return rows
