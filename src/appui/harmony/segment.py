"""Joint segmentation: the chord of every slice of a movement, decided together.

For each slice every chord is scored by what sounds (evidence); going on in the same chord is free, changing costs.
Forward-backward over all slices gives for each slice the chance of every chord. What the evidence is: notes of the
chord for it, others against it, by length in the slice and by starting with it, capped; short notes that step in and
out count less; the lowest note by its place in the chord; missing notes; how common the chord's notes are nearby; the
prior of its type. Found to work by a study on expert-labelled scores; the values were tuned on such scores, leaving
whole scores out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from appui.harmony.templates import CHORDS, TYPES
from appui.harmony.texture import Slices, Texture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Parameters", "evidence", "members_table", "nearby_of", "posterior", "weights"]


@dataclass(frozen=True, slots=True)
class Parameters:
    """What is weighed, and how much. All are pure numbers; see the module's head."""

    onset_bonus: float = 0.34  # a note that starts in the slice
    cap: float = 1.7  # most one pitch class can weigh in a slice
    passing: float = 0.95  # what is left of a short note that steps in and out
    member: float = 1.1  # a note of the chord
    foreign: float = 1.3  # a note outside it
    missing_root: float = 0.05
    missing_third: float = 0.45
    missing_other: float = 0.0
    bass_root: float = 0.35
    bass_third: float = 0.15
    bass_fifth: float = -0.45
    bass_seventh: float = -1.2
    bass_foreign: float = -0.2
    nearby: float = 2.1  # how common the chord's notes are within some bars
    nearby_slices: float = 34.0
    prior: float = 0.6  # of the type
    sharpness: float = 1.35  # evidence against the cost of a change
    change: float = 3.0  # log cost of a change
    falling_fifth: float = 0.75  # what a root falling a fifth saves


@lru_cache(maxsize=1)
def members_table() -> Floats:
    """(chords, 12): 1 where the pitch class belongs to the chord."""
    table = np.zeros((len(CHORDS), 12))
    for index, chord in enumerate(CHORDS):
        table[index, list(chord.classes)] = 1.0
    return table


@lru_cache(maxsize=8)
def _bass_table(p: Parameters) -> Floats:
    """(chords, 12): what the lowest note says of the chord."""
    table = np.full((len(CHORDS), 12), p.bass_foreign)
    for index, chord in enumerate(CHORDS):
        for place, pitch_class in enumerate(chord.classes):
            table[index, pitch_class] = (p.bass_root, p.bass_third, p.bass_fifth, p.bass_seventh)[place]
    return table


@lru_cache(maxsize=8)
def _transitions(p: Parameters) -> Floats:
    roots = np.array([chord.root for chord in CHORDS])
    cost = np.full((len(CHORDS), len(CHORDS)), -p.change - np.log(len(CHORDS)) * 0.5)
    cost[(roots[:, None] - roots[None, :]) % 12 == 7] += p.falling_fifth
    np.fill_diagonal(cost, 0.0)
    table = np.exp(cost)
    return np.asarray(table / table.sum(1, keepdims=True))


def weights(texture: Texture, slices: Slices, p: Parameters) -> tuple[Floats, NDArray[np.int64]]:
    """(slices, 12) how much each pitch class weighs in each slice, and the lowest MIDI key of each slice (-1: none)."""
    count = len(slices.start)
    first = np.clip(np.searchsorted(slices.end, texture.onset + 1e-6, "right"), 0, count - 1)
    last = np.clip(np.searchsorted(slices.start, texture.end - 1e-6, "left") - 1, 0, count - 1)
    spans = np.maximum(last - first + 1, 0)
    note = np.repeat(np.arange(len(first)), spans)
    place = first[note] + np.arange(len(note)) - np.repeat(np.cumsum(spans) - spans, spans)
    overlap = np.minimum(texture.end[note], slices.end[place]) - np.maximum(texture.onset[note], slices.start[place])
    share = np.maximum(overlap, 0) / np.maximum(slices.end[place] - slices.start[place], 1e-6)
    starts = np.abs(texture.onset[note] - slices.start[place]) < 1e-4
    weight = (share + p.onset_bonus * starts) * np.where(texture.passing[note] & ~starts, p.passing, 1.0)
    table = np.zeros((count, 12))
    np.add.at(table, (place, texture.midi[note] % 12), weight)
    lowest = np.full(count, 999, np.int64)
    np.minimum.at(lowest, place, np.where(share > 0.1, texture.midi[note], 999))
    return np.minimum(table, p.cap), np.where(lowest == 999, -1, lowest)


def evidence(table: Floats, lowest: NDArray[np.int64], nearby: Floats, p: Parameters) -> Floats:
    """(slices, chords) how well each chord fits each slice; 0 where nothing sounds."""
    members = members_table()
    inside = table @ members.T
    total = table.sum(1, keepdims=True)
    score = p.member * inside - p.foreign * (total - inside)
    present = np.minimum(table, 0.7) / 0.7
    for index, kind in enumerate(TYPES):
        rows = slice(12 * index, 12 * index + 12)
        roots = np.arange(12)
        for place, semitone in enumerate(kind.semitones):
            cost = (p.missing_root, p.missing_third, p.missing_other, p.missing_other * 2)[place]
            score[:, rows] -= cost * (1 - present[:, (roots + semitone) % 12])
        score[:, rows] += p.prior * kind.prior
    score += np.where(lowest[:, None] >= 0, _bass_table(p)[:, lowest % 12].T, 0.0)
    score += p.nearby * (nearby @ members.T) / members.sum(1)
    return np.where(total > 0, p.sharpness * score, 0.0)


def nearby_of(table: Floats, p: Parameters) -> Floats:
    """(slices, 12) how common each pitch class is around each slice, mean 0: a local key without naming it."""
    reach = int(p.nearby_slices)
    kernel = np.exp(-np.abs(np.arange(-2 * reach, 2 * reach + 1)) / reach)
    padded = np.pad(np.minimum(table, 1.0), ((2 * reach, 2 * reach), (0, 0)))
    sums = np.stack([np.convolve(padded[:, pc], kernel, "valid") for pc in range(12)], 1)
    share = sums / np.maximum(sums.max(1, keepdims=True), 1e-9)
    return np.asarray(share - share.mean(1, keepdims=True))


def posterior(score: Floats, p: Parameters) -> Floats:
    """(slices, chords) the chance of each chord in each slice, by forward-backward."""
    likelihood = np.exp(score - score.max(1, keepdims=True))
    transition = _transitions(p)
    forward = np.empty_like(likelihood)
    backward = np.ones_like(likelihood)
    state = np.full(likelihood.shape[1], 1 / likelihood.shape[1])
    for index in range(len(likelihood)):
        state = (state @ transition if index else state) * likelihood[index]
        state /= state.sum()
        forward[index] = state
    state = np.ones(likelihood.shape[1])
    for index in range(len(likelihood) - 2, -1, -1):
        state = transition @ (state * likelihood[index + 1])
        state /= state.sum()
        backward[index] = state
    both = forward * backward
    return np.asarray(both / both.sum(1, keepdims=True))
