"""What sounds when, and the chance of each chord at a moment: three fits, averaged.

The average is what makes the confidence honest: half of it the segmentation in parts of a beat, the rest the same in
whole beats and a fit to what sounds from the main note to the next beat. These two do not ask which note is lowest: a
bass misleads now and then, and so not all three at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.exact import Fraction
from appui.harmony.parameters import Parameters
from appui.harmony.segment import Heard, evidence, members_table, nearby_of, posterior, weights
from appui.harmony.templates import CHORDS
from appui.harmony.texture import Slices, slices_of, texture_of
from appui.score.model import Event, Note, Score

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    _Three = tuple[Floats, Floats, Floats]

__all__ = ["Fit", "Fits", "Sounding"]

_TINY_Q = 1e-6
_MOMENT_Q = 0.01


class Sounding:
    """Which notes of a texture sound when. Times are floats of a quarter note, notes indices into the texture."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self.texture = texture_of(score)
        self._order = np.argsort(self.texture.onset, kind="stable")
        self._onsets = self.texture.onset[self._order]
        lengths = self.texture.end - self.texture.onset
        self._longest = float(lengths.max()) if len(lengths) else 0.0

    @cached_property
    def parts_of_beats(self) -> Slices:
        """Halves of a beat, thirds of a compound one."""
        return slices_of(self.score)

    @cached_property
    def beats(self) -> Slices:
        """Whole beats."""
        return slices_of(self.score, whole_beats=True)

    def between(self, start: float, end: float) -> Ints:
        """Notes that sound within a span, by onset; the search is bounded by the longest note."""
        low = np.searchsorted(self._onsets, start - self._longest - _TINY_Q)
        high = np.searchsorted(self._onsets, end - _TINY_Q)
        near = self._order[low:high]
        return np.asarray(near[self.texture.end[near] > start + _TINY_Q])

    def others(self, start: float, end: float, own: tuple[int, int] | None) -> Ints:
        """Notes that sound within a span in any voice but one, given as (part, voice); `None` for all."""
        found = self.between(start, end)
        return found[[self.texture.where[i][:2] != own for i in found]] if len(found) else found

    def note(self, index: int) -> tuple[str, Event, Note]:
        """Part name, event and note of an entry of the texture."""
        part, voice, event, note = self.texture.where[index]
        found = self.score.parts[part].voices[voice].events[event]
        return self.score.parts[part].name, found, found.notes[note]

    def lowest(self, notes: Sequence[int] | Ints) -> int | None:
        """The lowest of some notes; `None` of none."""
        return min((int(i) for i in notes), key=lambda i: int(self.texture.midi[i]), default=None)


class Fit(NamedTuple):
    """One segmentation: its slices, what sounds in them, what is lowest, the chance of each chord and the best."""

    slices: Slices
    table: Floats
    lowest: Ints
    nearby: Floats
    chances: Floats
    best: Ints


class Fits:
    """The three fits of one score, made when first asked."""

    def __init__(self, score: Score, parameters: Parameters, sounding: Sounding | None = None) -> None:
        self.score, self.parameters = score, parameters
        self._last: tuple[Fraction, _Three] | None = None
        if sounding is not None:
            self.sounding = sounding

    @cached_property
    def sounding(self) -> Sounding:
        """What sounds when."""
        return Sounding(self.score)

    @cached_property
    def parts_of_beats(self) -> Fit:
        """The segmentation in halves of a beat, thirds of a compound one."""
        heard = weights(self.sounding.texture, self.sounding.parts_of_beats, self.parameters)
        return self._fit(self.sounding.parts_of_beats, heard, heard, self.parameters)

    @cached_property
    def belonging(self) -> Floats:
        """(slices, 12) the chance of each pitch class to belong to the chord of a part of a beat, by that fit."""
        return np.asarray(self.parts_of_beats.chances @ members_table())

    @cached_property
    def beats(self) -> Fit:
        """The segmentation in whole beats, where what enters off the beat starts too.

        It looks around as far in time as the other, so half as far in slices.
        """
        wider = replace(self.parameters, nearby_slices=max(self.parameters.nearby_slices / 2, 1.0))
        heard = weights(self.sounding.texture, self.sounding.beats, wider, starts_inside=True)
        return self._fit(self.sounding.beats, heard, heard.without_bass(), wider)

    @staticmethod
    def _fit(slices: Slices, heard: Heard, asked: Heard, p: Parameters) -> Fit:
        """The fit to what is `asked` of what is heard."""
        nearby = nearby_of(heard.table, p)
        chances = posterior(evidence(asked, nearby, p), p)
        return Fit(slices, heard.table, heard.lowest, nearby, chances, chances.argmax(1))

    @cached_property
    def by_bar(self) -> Floats:
        """(bars, chords) how long each chord probably sounds in each bar; nothing where nothing sounds."""
        fit = self.parts_of_beats
        length = np.where(fit.table.sum(1) > 0, fit.slices.end - fit.slices.start, 0.0)
        total = np.zeros((len(self.score.bars), len(CHORDS)))
        np.add.at(total, fit.slices.bar, fit.chances * length[:, None])
        return total

    def chances(self, onset_q: Fraction) -> Floats:
        """The chance of each chord of `templates.CHORDS` at a moment."""
        return self._mixed(*self._three(onset_q))

    def _mixed(self, parts: Floats, beats: Floats, window: Floats) -> Floats:
        p = self.parameters
        mixed = p.share_parts * parts + p.share_beats * beats + p.share_window * window
        return np.asarray(mixed / mixed.sum())

    def _three(self, onset_q: Fraction) -> _Three:
        """What each of the three fits says at a moment; the last answer is kept, as it is asked for twice."""
        if self._last is None or self._last[0] != onset_q:
            self._last = onset_q, self._asked(onset_q)
        return self._last[1]

    def _asked(self, onset_q: Fraction) -> _Three:
        half, whole = self.parts_of_beats, self.beats
        here, there = half.slices.at(float(onset_q)), whole.slices.at(float(onset_q))
        return half.chances[here], whole.chances[there], self._window(onset_q, half.nearby[here : here + 1])

    def beside(self, onset_q: Fraction) -> dict[str, Floats]:
        """The chances at a moment by all fits and by each, with those of the part before and the beat after."""
        parts, beats, window = self._three(onset_q)
        half, whole = self.parts_of_beats, self.beats
        here, there = half.slices.at(float(onset_q)), whole.slices.at(float(onset_q))
        return {
            "chance": self._mixed(parts, beats, window),
            "chance by parts": parts,
            "chance by beats": beats,
            "ahead to the next beat": window,
            "beside the part before": half.chances[max(here - 1, 0)],
            "beside the beat after": whole.chances[min(there + 1, len(whole.chances) - 1)],
        }

    def share(self, start: float, end: float, own: tuple[int, int]) -> Floats:
        """(12,) for how much of a span each pitch class sounds in voices other than `own` (part, voice), 0..1."""
        texture, found = self.sounding.texture, self.sounding.others(start, end, own)
        lasts = np.minimum(texture.end[found], end) - np.maximum(texture.onset[found], start)
        return np.minimum(np.bincount(texture.midi[found] % 12, lasts, 12) / (end - start), 1.0)

    def _window(self, onset_q: Fraction, nearby: Floats) -> Floats:
        bar = self.score.bar_at(onset_q)
        place_q = onset_q - bar.onset_q + bar.lead_q
        onset, end = float(onset_q), float(onset_q + bar.meter.beat_q - place_q % bar.meter.beat_q)
        part = self.sounding.texture.only(self.sounding.between(onset, end))
        one = Slices(np.array([onset]), np.array([end]), np.array([bar.index]))
        heard = weights(part, one, self.parameters).without_bass()
        score = evidence(heard, nearby, self.parameters)[0]
        chance = np.exp(score - score.max())
        return np.asarray(chance / chance.sum())

    def bass(self, onset_q: Fraction, own: tuple[int, int] | None = None) -> int | None:
        """The bass at a moment as an index into the texture: the lowest note, or the lowest of its figure.

        Where at the moment nothing but the solo (`own`: part, voice) sounds, the accompaniment that enters before
        the beat is over is asked. The bass of a broken chord holds while the chord lasts, half a bar at most.
        """
        onset, bar = float(onset_q), self.score.bar_at(onset_q)
        now = self.sounding.between(onset, onset + _MOMENT_Q)
        if all(self.sounding.texture.where[i][:2] == own for i in now):
            now = self.sounding.between(onset, onset + float(bar.meter.beat_q))
        lowest = self.sounding.lowest(now)
        if lowest is None or self.sounding.texture.where[lowest][:2] == own:
            return lowest
        return self._figure_bass(lowest, onset, float(bar.meter.beat_q), float(bar.onset_q))

    def _figure_bass(self, lowest: int, onset: float, beat_q: float, bar_q: float) -> int:
        texture, fit = self.sounding.texture, self.parts_of_beats
        if texture.end[lowest] - texture.onset[lowest] > beat_q - _TINY_Q:
            return lowest
        here = start = fit.slices.at(onset)
        reach = max(bar_q, onset - 2 * beat_q)
        while start > 0 and fit.slices.start[start - 1] >= reach - _TINY_Q and fit.best[start - 1] == fit.best[here]:
            start -= 1
        figure = [
            int(i)
            for i in self.sounding.between(float(fit.slices.start[start]), onset + _MOMENT_Q)
            if texture.where[i][:2] == texture.where[lowest][:2]
        ]
        return min([lowest, *figure], key=lambda i: int(texture.midi[i]))
