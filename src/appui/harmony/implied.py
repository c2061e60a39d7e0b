"""The chords a single line implies: key and chord of every beat found together, from the line alone.

A chain over the beats. In each the line is in one of 24 keys and over one of the chords that are common in it. How
likely notes are over a chord (all that sounds in the beat, and once more the note on the beat), which chord follows
which, how often it changes on which beat of a bar, and which keys are common under a key signature was counted on
scores with an expert's chords, their highest voice taken for the line (`tests.benchmarks.proposed_chords` counts
anew and says what it is worth on works left out). Forward-backward gives the chance of each key and chord.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.exact import Fraction
from appui.harmony.implied_tables import CHANGES, CHORDS_OF, FOLLOWS, KEY_CHANGES, KEYS, ON_BEAT, SOUNDING, USUAL
from appui.harmony.keys import LocalKey, signatures_of, spelled_key
from appui.harmony.parameters import Parameters
from appui.harmony.segment import weights
from appui.harmony.templates import CHORDS, Chord
from appui.harmony.texture import Slices, texture_of
from appui.score.model import Bar, Score

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Beats", "Implied", "Tables", "beats_of", "implied", "implied_chances", "shipped_tables"]

_MOMENT_Q = 0.01
# a file can claim a bar of any length
_MOST_BEATS = 512
# what the notes of a beat, and the one on it, count against the chain: a line's notes do not speak independently
_COUNT_SOUNDING, _COUNT_ON_BEAT = 0.7, 0.5
# keys change more easily than the experts say: what is found wrong is left again
_KEY_CHANGES = 2.0
_RARE = 0.5
# no notes, however many, make a chord impossible
_UNLIKELY = -200.0
_PER = 1000


class Tables(NamedTuple):
    """What is counted, first by mode (major, minor), then by chord: `roots` above the tonic and `types` (-1: none).

    `sounding` and `on_beat` (2, chords, 12) how often a pitch class above the tonic sounds over a chord; `usual`
    (2, chords) how common it is; `follows` (2, chords, chords) which follows which where the chord changes; `changes`
    (2, places in the bar) how often it does; `keys` (2, 12) which keys are common by their tonic above the major tonic
    of the key signature; `key_changes` how often the key changes at a beat.
    """

    roots: Ints
    types: Ints
    sounding: Floats
    on_beat: Floats
    usual: Floats
    follows: Floats
    changes: Floats
    keys: Floats
    key_changes: float


class Beats(NamedTuple):
    """The beats of a line: `onset_q`, `place` in the bar (0..4), `signature`, what sounds in each and on it (12)."""

    onset_q: tuple[Fraction, ...]
    bar: Ints
    place: Ints
    signature: Ints
    sounding: Floats
    on_beat: Floats


class Implied(NamedTuple):
    """The likeliest chord of a beat, the chance of its root (0..1), and the likeliest key."""

    onset_q: Fraction
    chord: Chord
    chance: float
    key: LocalKey


def implied(line: Score, tables: Tables | None = None) -> Iterator[Implied]:
    """The chord of every beat of a score that has one line; `tables` are those of the project."""
    beats, tables = beats_of(line), tables or shipped_tables()
    if not beats.onset_q:
        return
    chances = implied_chances(beats, tables)
    roots = _by_root(chances, tables)
    keys = chances.sum(3).reshape(len(chances), -1).argmax(1)
    for index, onset_q in enumerate(beats.onset_q):
        root = int(roots[index].sum(1).argmax())
        kind = int(roots[index, root].argmax())
        key = spelled_key(int(keys[index]), int(beats.signature[index]))
        yield Implied(onset_q, CHORDS[12 * kind + root], float(roots[index, root].sum()), key)


def beats_of(line: Score) -> Beats:
    """The beats of a line and what sounds in them."""
    found = [(onset_q, end_q, bar, place) for bar in line.bars for onset_q, end_q, place in _beats(bar)]
    start = np.array([float(onset_q) for onset_q, _, _, _ in found])
    end = np.array([float(end_q) for _, end_q, _, _ in found])
    bars = np.array([bar.index for _, _, bar, _ in found], np.int64)
    plain = replace(Parameters(), onset_bonus=0.0, passing=1.0, cap=float("inf"))
    texture = texture_of(line)
    on_beat = weights(texture, Slices(start, start + _MOMENT_Q, bars), plain).table
    return Beats(
        tuple(onset_q for onset_q, _, _, _ in found),
        bars,
        np.array([_place(bar, place) for _, _, bar, place in found], np.int64),
        signatures_of(line)[bars] if len(bars) else bars,
        weights(texture, Slices(start, end, bars), plain).table,
        np.minimum(on_beat, 1.0),
    )


def _beats(bar: Bar) -> Iterator[tuple[Fraction, Fraction, int]]:
    """Start, end and number (from 0) of every beat of a bar; a part of a beat that a bar starts with is left out."""
    beat_q, end_q = bar.meter.beat_q, bar.onset_q + bar.length_q
    first_q = -bar.lead_q % beat_q
    number = int((bar.lead_q + first_q) / beat_q)
    for index in range(_MOST_BEATS):
        start_q = bar.onset_q + first_q + index * beat_q
        if start_q >= end_q:
            return
        yield start_q, min(start_q + beat_q, end_q), number + index


def _place(bar: Bar, number: int) -> int:
    """What a beat is to its bar: 0 the first, 1 the half, 2 another; of an odd number of beats 3 the second, 4 another.

    A single beat is always the first.
    """
    count = bar.meter.bar_q / bar.meter.beat_q
    if number == 0:
        return 0
    if count % 2 == 0:
        return 1 if 2 * number == count else 2
    return 3 if number == 1 else 4


# the chain


def implied_chances(beats: Beats, tables: Tables) -> Floats:
    """(beats, 2 modes, 12 tonics, chords) the chance of each key and chord, by forward-backward."""
    likely = _likelihood(beats, tables)
    steps = [_step(tables, place) for place in range(tables.changes.shape[1])]
    starts = {int(each): _start(tables, int(each)) for each in np.unique(beats.signature)}
    leave = _KEY_CHANGES * tables.key_changes
    chances = np.empty_like(likely)
    state = starts[int(beats.signature[0])]
    for index in range(len(likely)):
        if index:
            stay = state @ steps[beats.place[index]]
            state = (1 - leave) * stay + leave * state.sum() * starts[int(beats.signature[index])]
        state = state * likely[index]
        state /= state.sum()
        chances[index] = state
    back = np.ones_like(state)
    for index in range(len(likely) - 1, 0, -1):
        back = back * likely[index]
        new = leave * float((starts[int(beats.signature[index])] * back).sum())
        back = (1 - leave) * (back @ steps[beats.place[index]].transpose(0, 2, 1)) + new
        back /= back.sum()
        chances[index - 1] *= back
    chances /= chances.sum((1, 2, 3), keepdims=True)
    return chances


def _likelihood(beats: Beats, tables: Tables) -> Floats:
    """How well each key and chord fits what sounds in each beat, the best 1."""
    above = (np.arange(12)[:, None] + np.arange(12)) % 12  # (tonic, pitch class above it) as a pitch class
    score = _COUNT_SOUNDING * np.einsum("nkp,mvp->nmkv", beats.sounding[:, above], np.log(tables.sounding))
    score += _COUNT_ON_BEAT * np.einsum("nkp,mvp->nmkv", beats.on_beat[:, above], np.log(tables.on_beat))
    score = np.where((tables.types >= 0)[None, :, None, :], score, -np.inf)
    worst = np.where(np.isinf(score), -np.inf, _UNLIKELY)
    return np.asarray(np.exp(np.maximum(score - score.max((1, 2, 3), keepdims=True), worst)))


def _step(tables: Tables, place: int) -> Floats:
    """(2, chords, chords) where a chord goes at a beat: it stays, or another follows."""
    change = tables.changes[:, place][:, None, None]
    return np.asarray((1 - change) * np.eye(tables.follows.shape[1]) + change * tables.follows)


def _start(tables: Tables, signature: int) -> Floats:
    """(2, 12, chords) how likely each key and chord is to begin with."""
    keys = np.roll(tables.keys, signature * 7 % 12, 1)
    return np.asarray(keys[:, :, None] * tables.usual[:, None, :])


def _by_root(chances: Floats, tables: Tables) -> Floats:
    """(beats, 12 roots, types) the chance of each root and type, over all keys."""
    found = np.zeros((len(chances), 12, int(tables.types.max()) + 1))
    for mode, chord in np.argwhere(tables.types >= 0):
        for tonic in range(12):
            root = (tonic + tables.roots[mode, chord]) % 12
            found[:, root, tables.types[mode, chord]] += chances[:, mode, tonic, chord]
    return found


# the tables


def shipped_tables() -> Tables:
    """The tables of `implied_tables`, counted in thousandths; what was never met is rare, not impossible."""
    most = max(map(len, CHORDS_OF))
    roots, types = np.zeros((2, most), np.int64), np.full((2, most), -1)
    for mode, chords in enumerate(CHORDS_OF):
        roots[mode, : len(chords)], types[mode, : len(chords)] = np.array(chords).T
    follows = np.stack([_padded(table, (most, most)) for table in FOLLOWS])
    return Tables(
        roots,
        types,
        np.stack([_padded(table, (most, 12), _RARE) for table in SOUNDING]),
        np.stack([_padded(table, (most, 12), _RARE) for table in ON_BEAT]),
        np.stack([_padded((row,), (1, most))[0] for row in USUAL]),
        follows,
        np.array(CHANGES) / _PER,
        np.array(KEYS) / np.sum(KEYS),
        KEY_CHANGES / _PER,
    )


def _padded(table: tuple[tuple[int, ...], ...], shape: tuple[int, int], least: float = 0.0) -> Floats:
    """A table in shape, its rows adding up to 1; the rows added are even."""
    full = np.zeros(shape)
    full[: len(table), : len(table[0])] = np.maximum(table, least)
    full[len(table) :] = 1.0
    return np.asarray(full / full.sum(1, keepdims=True))
