"""Joint segmentation: the chord of every slice of a movement, decided together.

For each slice every chord is scored by what sounds (evidence); going on in the same chord is free, changing costs.
Forward-backward over all slices gives for each slice the chance of every chord. What the evidence is: notes of the
chord for it, others against it, by length in the slice and by starting with it, capped; short notes that step in and
out count less; the lowest note by its place in the chord; missing notes; how common the chord's notes are nearby; the
prior of its type. The values are in `parameters`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.harmony.parameters import Parameters
from appui.harmony.templates import CHORDS, TYPES
from appui.harmony.texture import Slices, Texture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Heard", "evidence", "kin_table", "members_table", "nearby_of", "posterior", "weights"]

# a pitch class that weighs as much counts as present in full
_PRESENT = 0.7
# a note that fills less of a slice is not its bass
_BASS_SHARE = 0.1
_SILENT = -1
# a step divides the total by some hundreds at most, so a few can go by before it is scaled back to 1
_SCALED_EVERY = 8


class Heard(NamedTuple):
    """What sounds in each slice.

    `table` (slices, 12) is how much each pitch class weighs, `lowest` the lowest MIDI key (-1: none), `alone` whether
    that is the only key.
    """

    table: Floats
    lowest: Ints
    alone: NDArray[np.bool_]

    def without_bass(self) -> Heard:
        """The same with nothing known of what is lowest."""
        return self._replace(lowest=np.full_like(self.lowest, _SILENT))


@lru_cache(maxsize=1)
def members_table() -> Floats:
    """(chords, 12): 1 where the pitch class belongs to the chord."""
    table = np.zeros((len(CHORDS), 12))
    for index, chord in enumerate(CHORDS):
        table[index, list(chord.classes)] = 1.0
    return table


@lru_cache(maxsize=1)
def kin_table() -> Floats:
    """(chords, chords): 1 where the second has all notes of the first, or is the first without its seventh."""
    members = members_table()
    larger = members @ members.T >= members.sum(axis=1)[:, None]
    roots = np.array([chord.root for chord in CHORDS])
    kin = np.zeros((len(CHORDS), len(CHORDS)))
    kin[larger | (larger.T & (roots[:, None] == roots[None, :]))] = 1.0
    return kin


@lru_cache(maxsize=8)
def _bass_table(p: Parameters) -> Floats:
    """(12, chords): what the lowest note says of the chord."""
    table = np.full((12, len(CHORDS)), p.bass_foreign)
    for index, chord in enumerate(CHORDS):
        for place, pitch_class in enumerate(chord.classes):
            table[pitch_class, index] = (p.bass_root, p.bass_third, p.bass_fifth, p.bass_seventh)[place]
    return table


@lru_cache(maxsize=8)
def _missing_table(p: Parameters) -> Floats:
    """(12, chords): what it costs a chord that the pitch class does not sound."""
    table = np.zeros((12, len(CHORDS)))
    for index, chord in enumerate(CHORDS):
        for place, pitch_class in enumerate(chord.classes):
            cost = (p.missing_root, p.missing_third, p.missing_fifth, p.missing_seventh)[place]
            table[pitch_class, index] = cost
    return table


@lru_cache(maxsize=8)
def _type_priors(p: Parameters) -> Floats:
    return np.repeat([p.prior * kind.prior for kind in TYPES], 12)


@lru_cache(maxsize=8)
def _transitions(p: Parameters) -> Floats:
    roots = np.array([chord.root for chord in CHORDS])
    cost = np.full((len(CHORDS), len(CHORDS)), -p.change - np.log(len(CHORDS)) * 0.5)
    cost[(roots[:, None] - roots[None, :]) % 12 == 7] += p.falling_fifth
    np.fill_diagonal(cost, 0.0)
    table = np.exp(cost)
    return np.asarray(table / table.sum(1, keepdims=True))


def weights(texture: Texture, slices: Slices, p: Parameters, *, starts_inside: bool = False) -> Heard:
    """How much each pitch class weighs in each slice, and what is lowest there.

    With `starts_inside` a note that starts anywhere in the slice has the bonus, not only one that starts with it.
    """
    note, place = _overlaps(texture, slices)
    overlap = np.minimum(texture.end[note], slices.end[place]) - np.maximum(texture.onset[note], slices.start[place])
    share = np.maximum(overlap, 0) / np.maximum(slices.end[place] - slices.start[place], 1e-6)
    on_time = np.abs(texture.onset[note] - slices.start[place]) < 1e-4
    starts = texture.onset[note] > slices.start[place] - 1e-4 if starts_inside else on_time
    weight = share + p.onset_bonus * (starts & ~texture.held[note])
    weight *= np.where(texture.passing[note] & ~on_time, p.passing, 1.0)
    table = np.zeros((len(slices.start), 12))
    midi = texture.midi[note]
    np.add.at(table, (place, midi % 12), weight)
    full = share > _BASS_SHARE
    lowest = np.full(len(table), 999, np.int64)
    highest = np.full(len(table), _SILENT, np.int64)
    np.minimum.at(lowest, place[full], midi[full])
    np.maximum.at(highest, place[full], midi[full])
    return Heard(np.minimum(table, p.cap), np.where(highest == _SILENT, _SILENT, lowest), lowest == highest)


def _overlaps(texture: Texture, slices: Slices) -> tuple[Ints, Ints]:
    """Every pair of a note and a slice in which it sounds."""
    count = len(slices.start)
    first = np.clip(np.searchsorted(slices.end, texture.onset + 1e-6, "right"), 0, count - 1)
    last = np.clip(np.searchsorted(slices.start, texture.end - 1e-6, "left") - 1, 0, count - 1)
    spans = np.maximum(last - first + 1, 0)
    note = np.repeat(np.arange(len(first)), spans)
    return note, first[note] + np.arange(len(note)) - np.repeat(np.cumsum(spans) - spans, spans)


def evidence(heard: Heard, nearby: Floats, p: Parameters) -> Floats:
    """(slices, chords) how well each chord fits each slice; 0 where nothing sounds."""
    table, lowest, alone = heard
    members, total = members_table(), table.sum(1, keepdims=True)
    absent = 1 - np.minimum(table, _PRESENT) / _PRESENT
    # one step at a time into the same array: of a million notes it has 200 MB, and so has each that is made on the way
    score = np.asarray(table @ members.T)
    score *= p.member + p.foreign
    score -= p.foreign * total
    score -= absent @ _missing_table(p)
    common = (p.nearby * nearby) @ (members.T / members.sum(1))
    common += _type_priors(p)
    score += common
    del common
    by_bass = _bass_table(p)[lowest % 12]
    by_bass *= np.where(lowest == _SILENT, 0, np.where(alone, p.bass_alone, 1))[:, None]
    score += by_bass
    score *= p.sharpness
    score[~(total[:, 0] > 0)] = 0.0
    return score


def nearby_of(table: Floats, p: Parameters) -> Floats:
    """(slices, 12) how common each pitch class is around each slice, mean 0: a local key without naming it."""
    reach = int(p.nearby_slices)
    kernel = np.exp(-np.abs(np.arange(-2 * reach, 2 * reach + 1)) / reach)
    padded = np.pad(np.minimum(table, 1.0), ((2 * reach, 2 * reach), (0, 0)))
    sums = np.stack([np.convolve(padded[:, pc], kernel, "valid") for pc in range(12)], 1)
    share = sums / np.maximum(sums.max(1, keepdims=True), 1e-9)
    return np.asarray(share - share.mean(1, keepdims=True))


def posterior(score: Floats, p: Parameters) -> Floats:
    """(slices, chords) the chance of each chord in each slice, by forward-backward; `score` is used up."""
    score -= score.max(1, keepdims=True)
    likelihood = np.exp(score, out=score)
    transition = _transitions(p)
    chance = np.empty_like(likelihood)
    state = np.full(likelihood.shape[1], 1 / likelihood.shape[1])
    for index in range(len(likelihood)):
        state = (state @ transition if index else state) * likelihood[index]
        if index % _SCALED_EVERY == 0:
            state /= state.sum()
        chance[index] = state
    state = np.ones(likelihood.shape[1])
    for index in range(len(likelihood) - 2, -1, -1):
        state = transition @ (state * likelihood[index + 1])
        if index % _SCALED_EVERY == 0:
            state /= state.sum()
        chance[index] *= state
    chance /= chance.sum(1, keepdims=True)
    return chance
