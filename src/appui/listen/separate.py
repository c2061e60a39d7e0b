"""The solo taken out of a recording in which others play with it, by what the score has at each moment.

Non-negative factorization with the score's help: a spectrum for every key of the solo and of the others, harmonics
only, each sounding only near where the score has its note. What the solo's keys then make of each point of the spectrum
is kept of it, the rest is left out.

Source: Lee and Seung 2001, Algorithms for non-negative matrix factorization (memory); Ewert and Müller 2012, Using
score-informed constraints for NMF-based source separation (memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from appui.interpret.interpretation import Interpretation
from appui.listen.align import Span, align
from appui.listen.frames import FRAME_S, RATE
from appui.listen.full import Slice, located, slices_of
from appui.listen.line import Line, line_of
from appui.listen.take import Take, take_of
from appui.score.repeats import Occurrence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]
    Matrix = NDArray[np.float32]

__all__ = ["WITH_OTHERS", "WithOthers", "others_in", "solo_in", "solo_of"]

WITH_OTHERS = (
    "other instruments are heard with the solo: a full recording, of which the solo is taken as far as the score "
    "tells; if only the solo plays, say --solo-alone; if the others are a track of appui's, give it with --backing"
)
#  so much better must the solo with the others fit a frame than the solo alone (`spectra.fits`)
_CLEARLY = 0.1

_WINDOW, _STEP = 2048, 512
#  so many frames at a time: about half a minute
_FRAMES = 1300
_ROUNDS = 15
_PARTIALS = 16
#  a note may sound so much before and after where the score has it, as roughly found (s)
_EARLY_S, _LATE_S = 0.25, 0.35


class WithOthers(NamedTuple):
    """A full recording: the line as it was played, all that sounds with it, and where each slice of that begins (s)."""

    line: Line
    slices: list[Slice]
    starts_s: list[float]

    @property
    def span(self) -> Span:
        """Where that has each step of the line."""
        begun_s = {each.nominal_s: at_s for each, at_s in zip(self.slices, self.starts_s, strict=True)}
        return Span.near([begun_s[step.nominal_s] for step in self.line.steps])


def others_in(interpretation: Interpretation, orders: Sequence[Sequence[Occurrence]], take: Take) -> WithOthers | None:
    """What is played, in the order of bars that fits best; `None` where the solo plays alone."""
    lines = [line_of(interpretation, order) for order in orders]
    every = [slices_of(interpretation, order, line) for order, line in zip(orders, lines, strict=True)]
    if not every[0]:
        return None
    found = [located(slices, take) for slices in every]
    line, slices, best = max(zip(lines, every, found, strict=True), key=lambda each: each[2].score)
    if best.fit < located(slices, take, alone=True).fit + _CLEARLY:
        return None
    return WithOthers(line, slices, best.starts_s)


def solo_in(played: WithOthers, samples: Samples, a4_hz: float, file: object) -> Take:
    """The solo of a full recording as a take of its own.

    Taken out twice: where the solo's notes are found the first time, the slices are placed the second time.
    """
    line, slices, starts_s = played
    alone = take_of(solo_of(samples, slices, starts_s, a4_hz), file, a4_hz)
    at_s = _between(slices, line, _begun_s(played, alone))
    del alone
    return take_of(solo_of(samples, slices, at_s, a4_hz), file, a4_hz)


def _begun_s(played: WithOthers, alone: Take) -> list[float]:
    """Where each step begins; a small note that leans sounds from the beginning of its main note's slice on."""
    return [each.begun * FRAME_S for each in align(played.line, alone, played.span).found]


def _between(slices: Sequence[Slice], line: Line, begun_s: Sequence[float]) -> list[float]:
    """Where the slices begin, by where the solo's notes next to them do."""
    import numpy as np

    nominal = np.array([step.nominal_s for step in line.steps])
    begun = np.maximum.accumulate(np.array(begun_s))
    pace = (begun[-1] - begun[0]) / max(float(nominal[-1] - nominal[0]), 1e-6)
    at = np.array([each.nominal_s for each in slices])
    # before the first and after the last note of the solo, at its own tempo
    beyond = np.minimum(at - nominal[0], 0) + np.maximum(at - nominal[-1], 0)
    return [float(each) for each in np.interp(at, nominal, begun) + pace * beyond]


def solo_of(samples: Samples, slices: Sequence[Slice], starts_s: Sequence[float], a4_hz: float) -> NDArray[np.float16]:
    """What the solo sounds in a recording, in half precision; `starts_s` is where each slice begins in it."""
    import numpy as np

    count = -(-len(samples) // _STEP) + _WINDOW // _STEP
    out = np.zeros(len(samples), np.float16)
    # what the frames before reach into those that follow
    tail = np.zeros(_WINDOW - _STEP, np.float32)
    # the frame before the first reaches into the beginning
    for first in range(-1, count, _FRAMES):
        last = min(first + _FRAMES, count)
        begin = first * _STEP - _WINDOW // 2
        part = _solo_part(
            _part(samples, begin, begin + (last - first - 1) * _STEP + _WINDOW), slices, starts_s, first, a4_hz
        )
        part[: len(tail)] += tail
        done, tail = part[: (last - first) * _STEP], part[(last - first) * _STEP :]
        at = max(begin, 0)
        out[at : begin + len(done)] = done[at - begin :][: len(samples) - at]
    return out


def _part(samples: Samples, first: int, last: int) -> Samples:
    """Some samples, silence beyond the ends."""
    import numpy as np

    inside = samples[max(first, 0) : max(last, 0)]
    before = max(-first, 0)
    return np.pad(inside, (before, last - first - before - len(inside)))


def _solo_part(part: Samples, slices: Sequence[Slice], starts_s: Sequence[float], first: int, a4_hz: float) -> Samples:
    """The solo in some samples that begin with frame number `first`; at both ends frames are missing."""
    import numpy as np
    from scipy.fft import irfft, rfft

    # a root of Hann's window, twice over, adds up evenly
    window = np.sqrt(np.hanning(_WINDOW + 1)[:-1]).astype(np.float32)
    frames = rfft(np.lib.stride_tricks.sliding_window_view(part, _WINDOW)[::_STEP] * window)
    frames *= _mask(np.abs(frames), slices, starts_s, first, a4_hz)
    out = np.zeros(len(part), np.float32)
    for number, frame in enumerate(irfft(frames, _WINDOW)):
        out[number * _STEP : number * _STEP + _WINDOW] += frame * window
    return out / np.float32(_WINDOW / _STEP / 2)


def _mask(
    heard: Matrix, slices: Sequence[Slice], starts_s: Sequence[float], first: int, a4_hz: float
) -> NDArray[np.float32]:
    """The solo's share of every point of some frames, the first of them number `first`."""
    import numpy as np

    keys, allowed, solo = _allowed(slices, starts_s, first, len(heard))
    if not solo:
        return np.zeros_like(heard)
    if solo == len(keys):
        return np.ones_like(heard)
    spectra = _combs(keys, heard.shape[1], a4_hz)
    loud = allowed * heard.mean(axis=1, keepdims=True) + 1e-9 * allowed
    for _ in range(_ROUNDS):
        ratio = heard / (loud @ spectra + 1e-9)
        loud *= (ratio @ spectra.T) / (spectra.sum(axis=1) + 1e-9)
        ratio = heard / (loud @ spectra + 1e-9)
        spectra *= (loud.T @ ratio) / (loud.sum(axis=0)[:, np.newaxis] + 1e-9)
    mine, theirs = loud[:, :solo] @ spectra[:solo], loud[:, solo:] @ spectra[solo:]
    return np.asarray((mine**2 + 1e-12) / (mine**2 + theirs**2 + 2e-12), np.float32)


def _allowed(
    slices: Sequence[Slice], starts_s: Sequence[float], first: int, count: int
) -> tuple[list[int], Matrix, int]:
    """The keys that may sound in some frames, the solo's first, where each may (1 or 0), how many are the solo's."""
    import numpy as np

    ends_s = [*starts_s[1:], starts_s[-1] + slices[-1].end_s - slices[-1].nominal_s]
    begins = [max(round((start_s - _EARLY_S) * RATE / _STEP) - first, 0) for start_s in starts_s]
    ends = [min(round((end_s + _LATE_S) * RATE / _STEP) - first, count) for end_s in ends_s]
    near = [each for each in zip(slices, begins, ends, strict=True) if each[2] > each[1]]
    solo = {key for each, *_ in near for key in each.solo}
    others = {key for each, *_ in near for key in each.others}
    keys = [*sorted(solo), *sorted(others)]
    solo_at = {key: column for column, key in enumerate(sorted(solo))}
    others_at = {key: column for column, key in enumerate(sorted(others), len(solo))}
    allowed = np.zeros((count, len(keys)), np.float32)
    for each, begin, end in near:
        columns = [*(solo_at[key] for key in each.solo), *(others_at[key] for key in each.others)]
        allowed[begin:end, columns] = 1
    return keys, allowed, len(solo)


def _combs(keys: Sequence[int], bins: int, a4_hz: float) -> Matrix:
    """A row a key: its harmonics, each a third of a semitone or a bin and a half wide, nothing between."""
    import numpy as np

    hertz = np.arange(bins) * RATE / _WINDOW
    rows = np.zeros((len(keys), bins))
    for number, key in enumerate(keys):
        base = a4_hz * 2 ** ((key - 69) / 12)
        for partial in range(1, _PARTIALS + 1):
            wide = max(0.02 * base * partial, 1.5 * RATE / _WINDOW)
            away = np.abs(hertz - base * partial) / wide
            rows[number] += 0.8 ** (partial - 1) * np.maximum(1 - 0.5 * away**2, 0)
    return np.asarray(rows, np.float32)
