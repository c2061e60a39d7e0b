"""The line found in a take: where each note begins, in three looks, each at what the one before has learned.

First in steps of 46 ms with spectra guessed from harmonics; then, with spectra learned from the take's own plain notes,
the same again; then frame by frame, a dozen notes at a time, around what was found. Before and on the beat have the
same order of pitches, so the small notes stand in the one row, as notes that may be missing; whether they are before or
on the beat is decided afterwards, by where the beat is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from appui.listen.frames import FRAME_S
from appui.listen.line import Line, Step
from appui.listen.segment import Hint, Node, best_cut, sums_of
from appui.listen.spectra import fits, guessed, learned, mean_of
from appui.listen.take import Take

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Matrix = NDArray[np.float32]
    Row = NDArray[np.float64]

__all__ = [
    "Aligned",
    "Fitting",
    "Found",
    "SHORTEST",
    "Span",
    "SHORTEST_S",
    "STRUCK",
    "align",
    "align_fitted",
    "all_keys",
    "loud_span",
]

SHORTEST_S = 0.030
SHORTEST = round(SHORTEST_S / FRAME_S)
COARSE = 8
#  what a clear stroke is worth where a note begins, in the currency of `spectra.fits`
STRUCK = 5.0
#  a silence between notes of fewer frames is none
_SILENCE = 4
_QUIET_DB, _HUSHED_DB = 38.0, 25.0
#  so much softer than the softest notes is silence
_SOFTER_DB = 12.0
_CHUNK, _OVERLAP = 14, 3
#  how far a step may be from where the rough look has it: frames, and where it makes no more difference
_ROUGH, _ROUGH_MOST = 6 * COARSE, 6
#  how far from a track a player who follows it may be, seconds
_LED_S = 0.35
#  how far a step may be from where it is known by what sounds with it, seconds, and where it makes no more difference
_NEAR_S, _NEAR_MOST = 0.3, 6
#  semitones by which a whole take may be off
_OTHER_PITCHES = (0, -1, 1, -2, 2)
#  so many notes in a row, each quicker than this share of the usual pace, were not played
_LEFT_OUT, _HURRIED = 3, 0.4
#  nobody plays so much quicker or slower than the score
_PACES = (0.25, 5.0)


@dataclass(frozen=True, slots=True)
class Fitting:
    """How every frame fits every key (`by_key`, rows in the order of `keys`), nothing in particular, and silence."""

    keys: tuple[int, ...]
    by_key: Matrix
    anything: Row
    silence: Row
    rise: Row

    def of(self, step: Step) -> NDArray[np.float32]:
        """How every frame fits a step: its own key, or another that may sound within it."""
        return self.best_of(step.keys)

    def best_of(self, keys: Sequence[int]) -> NDArray[np.float32]:
        """How every frame fits the one of some keys that it fits best; one of them at least is known."""
        import numpy as np

        rows = [self.row(key) for key in keys if key in self.keys]
        return rows[0] if len(rows) == 1 else np.maximum.reduce(rows)

    def row(self, key: int) -> NDArray[np.float32]:
        """How every frame fits a key."""
        found: NDArray[np.float32] = self.by_key[self.keys.index(key)]
        return found

    def part(self, first: int, last: int) -> Fitting:
        """The same for some frames."""
        cut = slice(first, last)
        return Fitting(
            self.keys, self.by_key[:, cut], self.anything[cut], self.silence[cut], self.rise[first : last + 1]
        )


class Found(NamedTuple):
    """Where a step begins and ends, in frames, and where its small notes begin (-1: not there)."""

    start: int
    end: int
    small: tuple[int, ...] = ()

    @property
    def begun(self) -> int:
        """Where the first of it begins, its small notes among them."""
        return min([self.start, *(at for at in self.small if at >= 0)])


@dataclass(frozen=True, slots=True)
class Aligned:
    """The line in the take: each step, how well it fits (share of its frames that are more like it than anything).

    `score` is for comparing lines with the same take: the larger, the better it fits. `spectra` are those learned from
    a sound, a row a key of `fitting`.
    """

    found: tuple[Found, ...]
    fit: tuple[float, ...]
    fitting: Fitting
    score: float
    spectra: Matrix | None = None


def align(line: Line, take: Take, span: Span | None = None) -> Aligned:
    """Find the line in the take; `span` says where it is known to be, about."""
    keys = all_keys(line)
    bins = take.spectrum.shape[1]
    span = span or loud_span(take)
    known = _Learned(guessed(keys, bins))
    for _ in range(2):
        known = _learned(line, take, keys, known.spectra, span)
    spectra = known.spectra
    aligned = align_fitted(line, _fitting(take, keys, spectra, known.softest_db), span)
    fit, semitones = _fit_of_harmonics(line, take, aligned)
    # at another pitch than was thought, what was learned is not sure enough to part what rings together
    return replace(aligned, fit=fit, score=known.score, spectra=spectra if semitones == 0 else None)


class _Learned(NamedTuple):
    """What a look at a take has taught: spectra of the keys, the level of the softest notes, how well it all fits."""

    spectra: Matrix
    softest_db: float = -math.inf
    score: float = 0.0


def _learned(line: Line, take: Take, keys: tuple[int, ...], rows: Matrix, span: Span) -> _Learned:
    """What the line teaches where it is found with the spectra known so far.

    What counts as silence is here the same for every line, so that scores of lines can be compared.
    """
    rough, score = _coarse(line, _fitting(take, keys, rows), span)
    spectra = learned(keys, _middles(line, rough, take), take.spectrum.shape[1])
    return _Learned(spectra, _softest_db(rough, take), score)


class Span(NamedTuple):
    """From which frame to which the line is played, about, and how far a note may be from an even pace (frames).

    `at` are the frames of its steps, where each is known by itself; then one farther away than `wide` times `most` is
    no worse than there.
    """

    first: float
    last: float
    wide: float
    at: tuple[float, ...] = ()
    most: float = math.inf

    @classmethod
    def led(cls, line: Line, begins_s: float) -> Span:
        """Where a track leads."""
        return cls(begins_s / FRAME_S, (begins_s + _end_s(line)) / FRAME_S, _LED_S / FRAME_S)

    @classmethod
    def near(cls, starts_s: Sequence[float]) -> Span:
        """Where each step is known, about, from what sounds with it."""
        at = tuple(start_s / FRAME_S for start_s in starts_s)
        return cls(at[0], at[-1], _NEAR_S / FRAME_S, at, _NEAR_MOST)

    @classmethod
    def free(cls, first: int, last: int) -> Span:
        """Where only the first and the last sound are known: a broad hint."""
        return cls(first, last, 0.10 * (last - first) + 40 * COARSE)


def loud_span(take: Take) -> Span:
    """The first and the last frame in which something is played."""
    import numpy as np

    loud = np.flatnonzero(take.level_db > np.quantile(take.level_db, 0.9) - _HUSHED_DB)
    return Span.free(int(loud[0]), int(loud[-1]))


def align_fitted(line: Line, fitting: Fitting, span: Span) -> Aligned:
    """Find the line where it is known how every frame fits every key."""
    rough, score = _coarse(line, fitting, span)
    found = _fine(line, fitting, rough)
    fit = _in_time(line, found, [_fit(step, each, fitting) for step, each in zip(line.steps, found, strict=True)])
    return Aligned(tuple(found), fit, fitting, score)


def _fit_of_harmonics(line: Line, take: Take, aligned: Aligned) -> tuple[tuple[float, ...], int]:
    """How well each step fits by the harmonics of its key alone: what was learned from a take fits whatever it is.

    The whole take may be some semitones off, so many are given too: another pitch, an instrument that transposes.
    """
    keys, bins = aligned.fitting.keys, take.spectrum.shape[1]
    best, off = [0.0] * len(line.steps), 0
    for semitones in _OTHER_PITCHES:
        by_key = fits(take.spectrum, guessed([key + semitones for key in keys], bins))
        plain = replace(aligned.fitting, by_key=by_key)
        fit = [_fit(step, each, plain) for step, each in zip(line.steps, aligned.found, strict=True)]
        if sum(fit) > sum(best):
            best, off = fit, semitones
    return _in_time(line, aligned.found, best), off


def _in_time(line: Line, found: Sequence[Found], fit: Sequence[float]) -> tuple[float, ...]:
    """The fit, nothing for notes that went by far too quickly, several in a row: they were left out."""
    import numpy as np

    begun = np.array([each.begun for each in found], float)
    nominal = np.array([step.nominal_s for step in line.steps])
    if len(begun) < _LEFT_OUT + 1:
        return tuple(fit)
    pace = FRAME_S * np.diff(begun) / np.maximum(np.diff(nominal), 1e-6)
    if not _PACES[0] < np.median(pace) < _PACES[1]:
        return (0.0,) * len(fit)
    hurried = np.append(pace < _HURRIED * np.median(pace), False)
    out = list(fit)
    for number in range(len(out) - _LEFT_OUT + 1):
        if hurried[number : number + _LEFT_OUT].all():
            out[number : number + _LEFT_OUT] = [0.0] * _LEFT_OUT
    return tuple(out)


def all_keys(line: Line) -> tuple[int, ...]:
    """Every key that may sound, those within notes with signs too."""
    return tuple(sorted(set(line.keys) | {key for step in line.steps for key in step.keys}))


def _softest_db(found: Sequence[Found], take: Take) -> float:
    """How loud the softest notes are, as roughly found, but for a tenth of them."""
    import numpy as np

    levels = [float(np.quantile(take.level_db[each.start : each.end], 0.7)) for each in found if each.end > each.start]
    return float(np.quantile(levels, 0.1)) if levels else -math.inf


def _fitting(take: Take, keys: tuple[int, ...], rows: Matrix, softest_db: float = -math.inf) -> Fitting:
    """How the frames fit; what is far softer than the softest notes is silence: noise, a room, the rest of a track."""
    import numpy as np

    loud_db = float(np.quantile(take.level_db, 0.9))
    threshold = max(loud_db - _QUIET_DB, min(max(take.noise_db + 6, softest_db - _SOFTER_DB), loud_db - 12))
    quiet = np.clip((threshold - take.level_db) / 4, 0, 1)
    by_key = fits(take.spectrum, rows)
    by_key -= 3 * quiet.astype(np.float32)
    loud = (take.level_db > threshold).astype(np.float32)
    average = mean_of(take.spectrum, loud)
    rows = (0.7 * average + 0.3 / len(average)).astype(np.float32)
    anything = fits(take.spectrum, rows[np.newaxis])[0].astype(np.float64)
    best = by_key.max(axis=0).astype(np.float64)
    silence = np.where(quiet > 0.5, best + 1.0, anything - 2.0)
    # where it is quiet, what lies outside the line fits no better than silence: a long rest is no end of it
    outside = np.where(quiet > 0.5, np.minimum(anything + 0.3, silence), anything + 0.3)
    rise = np.append(take.rise, 0.0)
    return Fitting(keys, by_key, outside, silence, rise)


def _chain(line: Line, fitting: Fitting, numbers: range, least: int, hints: Sequence[Hint]) -> list[Node]:
    """The nodes of some steps: small notes, main note, silence for each; `hints` where each is expected to begin.

    A step's nodes are its small notes in order, itself, and the silence after it.
    """
    nodes: list[Node] = []
    smalls = {place.step: place.small for place in line.places if place.small}
    silence = sums_of(fitting.silence)
    struck = STRUCK * fitting.rise
    sums: dict[tuple[int, ...], Row] = {}
    before: tuple[int, ...] = (-1,)
    for number, hint in zip(numbers, hints, strict=True):
        step = line.steps[number]
        ways = before
        for index, key in enumerate(smalls.get(number, ())):
            nodes.append(Node(_sums(fitting, (key,), sums), before if not index else (len(nodes) - 1,), least, struck))
            if index == len(smalls[number]) - 1:
                ways = (*before, len(nodes) - 1)
        nodes.append(Node(_sums(fitting, step.keys, sums), ways, least, struck, hint))
        nodes.append(Node(silence, (len(nodes) - 1,), min(least, _SILENCE)))
        before = (len(nodes) - 2, len(nodes) - 1)
    return nodes


def _sums(fitting: Fitting, keys: tuple[int, ...], known: dict[tuple[int, ...], Row]) -> Row:
    if keys not in known:
        known[keys] = sums_of(fitting.best_of(keys))
    return known[keys]


def _read(line: Line, numbers: range, cut_starts: Sequence[int], cut_ends: Sequence[int]) -> list[Found]:
    """What a cut says of each step, from the nodes as `_chain` lays them out."""
    smalls = {place.step: len(place.small) for place in line.places if place.small}
    found, at = [], 0
    for number in numbers:
        count = smalls.get(number, 0)
        small = tuple(cut_starts[at : at + count])
        found.append(Found(cut_starts[at + count], cut_ends[at + count], small))
        at += count + 2
    return found


def _coarse(line: Line, fitting: Fitting, span: Span) -> tuple[list[Found], float]:
    """The whole line in steps of `COARSE` frames, and how well it fits."""
    import numpy as np

    count = len(fitting.anything) // COARSE
    cut = slice(0, count * COARSE)
    few = Fitting(
        fitting.keys,
        fitting.by_key[:, cut].reshape(len(fitting.keys), count, COARSE).sum(axis=2),
        fitting.anything[cut].reshape(count, COARSE).sum(axis=1),
        fitting.silence[cut].reshape(count, COARSE).sum(axis=1),
        np.append(fitting.rise[cut].reshape(count, COARSE).max(axis=1), 0.0),
    )
    numbers = range(len(line.steps))
    nodes = _chain(line, few, numbers, 1, _expected(line, span))
    cut_found = best_cut(nodes, sums_of(few.anything), [len(nodes) - 2])
    found = _read(line, numbers, cut_found.starts, cut_found.ends)
    rough = [
        Found(each.start * COARSE, each.end * COARSE, tuple(s * COARSE if s >= 0 else -1 for s in each.small))
        for each in found
    ]
    return rough, cut_found.score


def _expected(line: Line, span: Span) -> list[Hint]:
    """Where each step is known, or where an even tempo over the whole take has it, in coarse frames."""
    end_s = _end_s(line)
    even = [span.first + step.nominal_s / end_s * (span.last - span.first) for step in line.steps]
    return [Hint(each / COARSE, span.wide / COARSE / math.sqrt(2), span.most) for each in span.at or even]


def _end_s(line: Line) -> float:
    return line.steps[-1].nominal_s + float(line.steps[-1].length_q) * _pace(line)


def _pace(line: Line) -> float:
    """Seconds a quarter note at the end of the line."""
    last = line.steps[-1]
    earlier = next((s for s in reversed(line.steps) if s.onset_q < last.onset_q), None)
    if earlier is None:
        return 1.0
    return (last.nominal_s - earlier.nominal_s) / float(last.onset_q - earlier.onset_q)


def _middles(line: Line, found: Sequence[Found], take: Take) -> list[tuple[int, NDArray[np.float16]]]:
    """The middles of the plain notes: a key and its frames, without the beginning and the end."""
    heard = []
    for step, each in zip(line.steps, found, strict=True):
        length = each.end - each.start
        if step.plain and length >= 12:
            heard.append((step.key, take.spectrum[each.start + length // 3 : each.end - length // 6]))
    return heard


def _fine(line: Line, fitting: Fitting, rough: Sequence[Found]) -> list[Found]:
    """The line frame by frame, some steps at a time, each stretch overlapping the next."""
    found: list[Found] = []
    total = len(line.steps)
    for first in range(0, total, _CHUNK):
        low, high = max(first - _OVERLAP, 0), min(first + _CHUNK + _OVERLAP, total)
        start, end = _stretch(rough, low, high, len(fitting.anything))
        part = fitting.part(start, end)
        numbers = range(low, high)
        hints = [Hint(rough[number].start - start, _ROUGH, _ROUGH_MOST) for number in numbers]
        nodes = _chain(line, part, numbers, SHORTEST, hints)
        cut = best_cut(nodes, sums_of(part.anything), [len(nodes) - 2])
        read = _read(line, numbers, cut.starts, cut.ends)
        kept = read[first - low : first - low + min(_CHUNK, total - first)]
        found += [_later(each, start) for each in kept]
    return found


def _stretch(rough: Sequence[Found], low: int, high: int, count: int) -> tuple[int, int]:
    """The frames some steps lie in, with a margin; never too few for the shortest notes."""
    margin = 5 * COARSE
    start, end = max(rough[low].begun - margin, 0), min(rough[high - 1].end + margin, count)
    needed = 4 * SHORTEST * (high - low)
    if end - start < needed:
        start, end = max(start - needed, 0), min(end + needed, count)
    return start, end


def _later(found: Found, frames: int) -> Found:
    small = tuple(each + frames if each >= 0 else -1 for each in found.small)
    return Found(found.start + frames, found.end + frames, small)


def _fit(step: Step, found: Found, fitting: Fitting) -> float:
    """The share of a step's frames that are more like it than like anything else in the take, or like silence."""
    import numpy as np

    length = found.end - found.start
    cut = slice(found.start + length // 4, max(found.end - length // 6, found.start + length // 4 + 1))
    own = fitting.of(step)[cut]
    if not len(own):
        return 0.0
    sounding = own >= fitting.silence[cut]
    return float(np.mean(sounding & (own >= fitting.by_key[:, cut].max(axis=0) - 0.3)))
