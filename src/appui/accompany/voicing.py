"""Four parts over a bass: the cheapest way through all chords, found by dynamic programming.

Rules (common practice, no source), as costs against a semitone of movement in one voice:
no two parts in parallel fifths or octaves (struck or from chord to chord), sevenths and suspensions down by step,
leading notes up, suspensions prepared in their voice, the right hand within an octave and near the middle of its range,
small steps, contrary motion to outer fifths and octaves, no augmented steps. Hard rules cost so much that they are
broken only where nothing else is possible; `faults` names what was.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from typing import NamedTuple

from appui.accompany.chord import NEVER, Chord, Tone, pitch_in
from appui.harmony.places import place_of
from appui.score.pitch import Pitch

__all__ = ["HAND", "Voicing", "faults", "voice_chords"]

#  keys of the right hand: the G below middle C less a third, to the F an eleventh above it
HAND = (52, 77)
_SPAN = 12
_MIDDLE = 69.0
_COMMON_MIDDLE = 0.15
_KEEP, _KEEP_ALL = 200.0, 900.0

# fmt: off
#  what                                     cost
_PARALLEL       =                           1000.0
_UNRESOLVED     =                            500.0
_LEADING_TOP    =                            120.0
_LEADING_INNER  =                             12.0
_UNPREPARED     =                             15.0
_UNEQUAL_FIFTHS =                              5.0
_HIDDEN         =                              8.0
_AUGMENTED      =                             10.0
_OVERLAP        =                              2.0
_LEAP           =                              1.5   # for each semitone beyond a major third
# fmt: on

Voicing = tuple[Pitch, Pitch, Pitch]


class _State(NamedTuple):
    """A voicing with its bass, keys and places looked up once; voices from the lowest of the right hand up."""

    pitches: Voicing
    keys: tuple[int, int, int]
    places: tuple[int, int, int]
    cost: float


def voice_chords(chords: Sequence[Chord]) -> list[Voicing]:
    """Three upper notes for each chord, lowest first; empty for no chords."""
    if not chords:
        return []
    cost, path = _search(chords, _KEEP)
    # a bass that leaves no way out: any voicing rather than parallels
    return path if cost < _PARALLEL else _search(chords, _KEEP_ALL)[1]


def _search(chords: Sequence[Chord], keep: float) -> tuple[float, list[Voicing]]:
    """The cheapest way and its cost, among voicings that cost at most `keep` more than the best of their chord."""
    states = [_states(chord.tones, int(chord.bass.midi), place_of(chord.bass), keep) for chord in chords]
    best = [state.cost for state in states[0]]
    back: list[list[int]] = []
    for index in range(1, len(chords)):
        best, column = _step(_Move(chords[index - 1], chords[index]), states[index - 1], best, states[index])
        back.append(column)
    at = min(range(len(best)), key=best.__getitem__)
    cost, path = best[at], [at]
    for column in reversed(back):
        path.append(column[path[-1]])
    return cost, [states[index][at].pitches for index, at in enumerate(reversed(path))]


def _step(
    move: _Move, earlier: Sequence[_State], best: Sequence[float], later: Sequence[_State]
) -> tuple[list[float], list[int]]:
    """For each voicing of a chord the cost of the best way there, and the voicing before it on that way."""
    costs, column = [], []
    for state in later:
        cost, index = min((best[i] + move.cost(before, state), i) for i, before in enumerate(earlier))
        costs.append(cost + state.cost)
        column.append(index)
    return costs, column


@lru_cache(maxsize=4096)
def _states(tones: tuple[Tone, ...], bass: int, bass_place: int, keep: float) -> tuple[_State, ...]:
    """The voicings worth trying, the worst left out where better ones are there."""
    # a bass that climbs into the right hand's range pushes it up
    low, high = max(HAND[0], bass), max(HAND[1], bass + 16)
    pitches = sorted(
        (p for tone in tones for octave in range(1, 8) if low <= (p := pitch_in(tone.place, octave)).midi <= high),
        key=lambda p: p.midi,
    )
    found = [
        _state(found, tones, bass_place)
        for found in combinations(pitches, 3)
        if found[2].midi - found[0].midi <= _SPAN and found[0].midi < found[1].midi < found[2].midi
    ]
    found = [state for state in found if state.keys[0] > bass] or found
    least = min(state.cost for state in found)
    return tuple(state for state in found if state.cost <= least + keep)


def _state(pitches: Voicing, tones: Sequence[Tone], bass_place: int) -> _State:
    places = (place_of(pitches[0]), place_of(pitches[1]), place_of(pitches[2]))
    cost = abs(int(pitches[2].midi) - _MIDDLE - 2) * _COMMON_MIDDLE
    for tone in tones:
        count = places.count(tone.place)
        cost += tone.missing if not count else tone.doubled * (count - 1 + (tone.place == bass_place))
    keys = (int(pitches[0].midi), int(pitches[1].midi), int(pitches[2].midi))
    return _State(pitches, keys, places, cost)


class _Move:
    """The cost of going from one chord to the next; what depends on the chords alone is settled once."""

    def __init__(self, before: Chord, after: Chord) -> None:
        held = before.leaving == after.bass
        # a leading note in the bass takes the place of the resolution: no upper voice may go there
        bass_place = place_of(after.bass)
        open_tones = [tone for tone in after.tones if tone.place != bass_place or tone.doubled < NEVER]
        letters = {pitch_in(tone.place, 4).step for tone in open_tones}
        self.before, self.after = before, after
        self.basses = ((int(before.bass.midi), int(after.bass.midi)), (int(before.leaving.midi), int(after.bass.midi)))
        self.moving = {tone.place: tone for tone in before.tones}
        #  what must step down and can
        self.falls = {
            tone.place
            for tone in before.tones
            if tone.falls and (held or tone.falls == "always") and _below(tone.place) in letters
        }
        self.rises = {t.place for t in before.tones if t.rises and t.place - 5 in after.places}
        self.prepared = {tone.place for tone in after.tones if tone.prepared}
        self.stays = after.places

    def cost(self, a: _State, b: _State) -> float:
        """Movement, resolutions and parallels between two voicings."""
        total = 0.0
        for voice in (0, 1, 2):
            total += self._voice(a, b, voice)
        for low, high in ((0, 1), (0, 2), (1, 2)):
            total += _pair(a.keys[low], a.keys[high], b.keys[low], b.keys[high])
            total += _OVERLAP * (b.keys[high] < a.keys[low] or b.keys[low] > a.keys[high])
        for voice in (0, 1, 2):
            total += max(_pair(x, a.keys[voice], y, b.keys[voice]) for x, y in self.basses)
        return total + self._hidden(a, b)

    def _voice(self, a: _State, b: _State, voice: int) -> float:
        here, there = a.pitches[voice], b.pitches[voice]
        moved, steps = abs(a.keys[voice] - b.keys[voice]), there.diatonic - here.diatonic
        total = moved + _LEAP * max(0, moved - 4)
        total += _AUGMENTED * ((moved == 3 and abs(steps) == 1) or (moved == 6 and abs(steps) == 3))
        place = a.places[voice]
        if here != there:
            if place in self.falls and steps != -1:
                total += _UNRESOLVED
            if place in self.rises and steps != 1:
                total += _LEADING_TOP if voice == 2 else _LEADING_INNER
        elif place in self.falls and place not in self.stays:
            total += _UNRESOLVED
        if b.places[voice] in self.prepared and here != there:
            total += _UNPREPARED
        return total

    def _hidden(self, a: _State, b: _State) -> float:
        low_a, low_b = self.basses[1]
        gap = (b.keys[2] - low_b) % 12
        same = (b.keys[2] - a.keys[2]) * (low_b - low_a) > 0
        return _HIDDEN if gap in (0, 7) and same and abs(b.keys[2] - a.keys[2]) > 2 else 0.0


def _below(place: int) -> str:
    """The letter a step below a place."""
    return "CDEFGAB"["CDEFGAB".index(pitch_in(place, 4).step) - 1]


def _pair(low_a: int, high_a: int, low_b: int, high_b: int) -> float:
    """The cost of two voices moving in fifths or octaves; a diminished fifth before a perfect one costs little."""
    if low_a == low_b or high_a == high_b:
        return 0.0
    before, after = (high_a - low_a) % 12, (high_b - low_b) % 12
    if before == after and after in (0, 7):
        return _PARALLEL
    return _UNEQUAL_FIFTHS if (before, after) == (6, 7) else 0.0


def faults(chords: Sequence[Chord], voicings: Sequence[Voicing]) -> Iterator[tuple[int, str]]:
    """Every hard rule broken, as the number of the chord where it shows and what it is.

    ``parallel``, ``unresolved``, ``doubled``, ``missing``, ``wide``, ``low``.
    """
    for index, (chord, voicing) in enumerate(zip(chords, voicings, strict=True)):
        for name in _alone(chord, voicing):
            yield index, name
    for index, ((before, a), (after, b)) in enumerate(pairwise(zip(chords, voicings, strict=True)), 1):
        move = _Move(before, after)
        for name in _between(move, _state(a, before.tones, 0), _state(b, after.tones, 0)):
            yield index, name


def _alone(chord: Chord, voicing: Voicing) -> Iterator[str]:
    places = [place_of(pitch) for pitch in voicing]
    if voicing[2].midi - voicing[0].midi > _SPAN:
        yield "wide"
    if voicing[0].midi <= chord.bass.midi:
        yield "low"
    for tone in chord.tones:
        count = places.count(tone.place)
        if not count and tone.missing > 50:
            yield "missing"
        if tone.doubled > 100 and count + (tone.place == place_of(chord.bass)) > 1:
            yield "doubled"


def _between(move: _Move, a: _State, b: _State) -> Iterator[str]:
    pairs = [(a.keys[low], a.keys[high], b.keys[low], b.keys[high]) for low, high in ((0, 1), (0, 2), (1, 2))]
    pairs += [(x, a.keys[voice], y, b.keys[voice]) for voice in (0, 1, 2) for x, y in move.basses]
    if any(_pair(*pair) >= _PARALLEL for pair in pairs):
        yield "parallel"
    for voice in (0, 1, 2):
        step = b.pitches[voice].diatonic - a.pitches[voice].diatonic
        held = a.pitches[voice] == b.pitches[voice] and a.places[voice] in move.stays
        if a.places[voice] in move.falls and step != -1 and not held:
            yield "unresolved"
