"""How long each beat lasts: one curve for all parts, a sum of named rules.

`RULES` says what each rule looks at, `timing.toml` beside this file how much it is worth and where that is from. A beat
here is a beat of the meter; what is played within it moves with it, and all parts follow the one curve, so ornaments
and chords stay together. What is counted from the mean of the piece leaves its length about as it was. Nothing else
goes in: arches counted in bars were measured to explain nothing.

Left out by work the rules go with the beats of one pianist at r = .56 / .48 / .68 (Haydn / Beethoven / Bach), two
pianists with each other at .68 / .75 / .72; `tests/benchmarks/played.py` measures it again.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from appui.exact import Fraction
from appui.perform.beats import MOMENT_Q, Beats
from appui.perform.tables import terms_in
from appui.perform.written import SCALE_DB, written_of

if TYPE_CHECKING:
    from appui.perform.sheet import Column, Places

__all__ = ["END_Q", "RULES", "Rule", "beat_columns", "deviations", "ending", "rules"]

END_Q = 16.0
_LONGEST_WORDS_Q = 16.0
#  a silence of all that is worth a breath, in quarters
_SILENCE_Q = 0.12
#  a tempo has stood, and stands, for so long; a tempo so near to words is theirs
_STEADY_Q, _HERE_Q = 4.0, 0.5
_SLOWER = re.compile(r"\b(?:rit(?!ornello)|rall|riten|slent|allarg|calando|smorz|perdend|morend)", re.IGNORECASE)
#  words of dying away: the next mark of loudness has done with them (common practice, no source)
_DYING = re.compile(r"\b(?:calando|smorz|perdend|morend)", re.IGNORECASE)
_QUICKER = re.compile(r"\b(?:accel|string(?!s)|affrett)", re.IGNORECASE)
_IN_TEMPO = re.compile(r"a tempo|tempo (?:i\b|1|prim)", re.IGNORECASE)


class Rule(NamedTuple):
    """What a unit of a rule adds to a beat, per cent; whether from the mean of the piece or from nothing."""

    percent: float
    counted: str
    unit: str
    words: str
    source: str


@lru_cache(maxsize=1)
def rules() -> Mapping[str, Rule]:
    """The table of rules."""
    return {name: Rule(**entry) for name, entry in terms_in("timing.toml").items()}


def deviations(beats: Beats) -> Column:
    """How much longer each beat lasts for all rules but those of fermatas and of the end: natural logarithm."""
    total = np.zeros(len(beats.onset_q))
    columns = dict(beat_columns(beats)) | {
        "slowing": _under(beats, _SLOWER, timed=False),
        "hastening": _under(beats, _QUICKER, timed=False),
    }
    for name, column in columns.items():
        if name not in _ELSEWHERE and len(column):
            rule = rules()[name]
            start = column.mean() if rule.counted == "mean" else 0.0
            total += rule.percent / 100 * (column - start)
    return total


def ending(left_q: float) -> float:
    """How much longer a beat lasts that ends so many quarters before the end: natural logarithm.

    >>> [round(ending(left_q), 2) for left_q in (16, 8, 4, 0)]
    [0.0, 0.04, 0.13, 0.31]
    """
    return rules()["end"].percent / 100 * float(max(0.0, 1 - left_q / END_Q)) ** 3


def beat_columns(beats: Beats) -> Mapping[str, Column]:
    """The rules of a score, a number a beat."""
    return {name: find(beats) for name, find in RULES.items()}


# what is struck


def _onsets(beats: Beats) -> Column:
    first = np.searchsorted(beats.moments, beats.onset_q - MOMENT_Q)
    return _doublings(np.searchsorted(beats.moments, beats.end_q - MOMENT_Q) - first)


def _doublings(struck: Places) -> Column:
    doublings: Column = np.log2(np.maximum(struck, 1))
    return doublings


def _following(beats: Beats) -> Column:
    own = _onsets(beats)
    return np.append(own[1:], own[-1:])


def _chord(beats: Beats) -> Column:
    onsets = beats.sheet.onset_q
    first = np.searchsorted(onsets, beats.onset_q - MOMENT_Q)
    return _doublings(np.searchsorted(onsets, beats.onset_q + MOMENT_Q) - first)


def _last_beat(beats: Beats) -> Column:
    return np.array([float(one != other) for one, other in zip(beats.bar, (*beats.bar[1:], -1), strict=True)])


def _before_rest(beats: Beats) -> Column:
    """Whether all are silent for a moment in the next beat but one."""
    silent = _silences(beats)
    return np.append(silent[2:], np.zeros(min(2, len(silent))))


def _silences(beats: Beats) -> Column:
    """1 for the beats in which nothing sounds for a moment."""
    order = np.argsort(beats.sheet.onset_q, kind="stable")
    onsets = beats.sheet.onset_q[order]
    until = np.maximum.accumulate(beats.sheet.end_q[order]) if len(order) else onsets
    # what is silent: from the end of all that has begun to the next beginning
    starts = np.concatenate([[0.0], until])
    stops = np.concatenate([onsets, [beats.end_q[-1] if len(beats.end_q) else 0.0]])
    out = np.zeros(len(beats.onset_q))
    for start_q, stop_q in zip(starts, stops, strict=True):
        if stop_q - start_q > _SILENCE_Q:
            first, last = np.searchsorted(beats.end_q, start_q + _SILENCE_Q), np.searchsorted(beats.onset_q, stop_q)
            inside = np.minimum(beats.end_q[first:last], stop_q) - np.maximum(beats.onset_q[first:last], start_q)
            out[first:last] = np.maximum(out[first:last], inside > _SILENCE_Q)
    return out


# what is printed


def _before_softer(beats: Beats) -> Column:
    """By how many dB the next beat begins softer, in the part that is marked most."""
    part = max(beats.sheet.score.parts, key=lambda part: len(part.dynamics), default=None)
    if part is None or not part.dynamics:
        return np.zeros(len(beats.onset_q))
    printed = written_of(part)
    now = np.array([printed.at(at) for at in beats.onset_q])
    then = np.array([printed.at(at) for at in beats.end_q])
    softer: Column = np.maximum(now - then, 0)
    return softer


def _fermata(beats: Beats) -> Column:
    found = {
        float(event.onset_q)
        for part in beats.sheet.score.parts
        for voice in part.voices
        for event in voice.events
        if event.fermata
    }
    places = np.searchsorted(beats.onset_q, np.array(sorted(found)) + MOMENT_Q) - 1
    out = np.zeros(len(beats.onset_q))
    out[places[places >= 0]] = 1
    return out


def _before_fermata(beats: Beats) -> Column:
    own = _fermata(beats)
    return np.append(own[1:], np.zeros(min(1, len(own)))) * (1 - own)


def _before_tempo(beats: Beats) -> Column:
    """The two beats before a tempo that is new and stays; a row of small changes is the file's own slowing down."""
    changes = [float(mark.onset_q) for mark in beats.sheet.score.tempos]
    stays = [*changes[1:], np.inf]
    new = [
        at
        for before, at, after in zip(changes, changes[1:], stays[1:], strict=False)
        if at - before >= _STEADY_Q and after - at >= _STEADY_Q
    ]
    out = np.zeros(len(beats.onset_q))
    for at in new:
        place = bisect_left(beats.onset_q.tolist(), at - MOMENT_Q)
        out[max(place - 2, 0) : place] = 1
    return out


def _slowing(beats: Beats) -> Column:
    return _under(beats, _SLOWER, timed=True)


def _hastening(beats: Beats) -> Column:
    return _under(beats, _QUICKER, timed=True)


def _under(beats: Beats, asked: re.Pattern[str], *, timed: bool) -> Column:
    """1 for the beats under such words, until a tempo, another tempo or sixteen quarters.

    Words of dying away last no longer than to the next mark of loudness, in whichever part. Words that the file itself
    gives a tempo count only if `timed`: they are played by that.
    """
    score = beats.sheet.score
    said = sorted({(float(at_q), text) for part in score.parts for at_q, text in _texts(part.words, part.dynamics)})
    tempos = [float(mark.onset_q) for mark in score.tempos[1:]]
    stops = sorted([at_q for at_q, text in said if _IN_TEMPO.search(text)] + tempos)
    starts = [(at_q, text) for at_q, text in said if asked.search(text) and (timed or at_q not in tempos)]
    levels = [at_q for at_q, text in said if text in SCALE_DB or "cresc" in text.lower()]
    ends = [
        min([at_q + _LONGEST_WORDS_Q, *_next(stops, at_q), *(_next(levels, at_q) if _DYING.search(text) else ())])
        for at_q, text in starts
    ]
    return beats.flags([at_q for at_q, _ in starts], ends)


def _next(moments: Sequence[float], at_q: float) -> Sequence[float]:
    """The first of some moments, in order, that is not here but later; none where none is."""
    later = bisect_right(moments, at_q + _HERE_Q)
    return moments[later : later + 1]


def _texts(words: Sequence[Any], marks: Sequence[Any]) -> Iterator[tuple[Fraction, str]]:
    yield from ((one.onset_q, one.text) for one in words)
    yield from ((one.onset_q, one.mark) for one in marks)


def _end(beats: Beats) -> Column:
    length_q = beats.end_q[-1] if len(beats.end_q) else 0.0
    return np.maximum(0.0, 1 - (length_q - beats.end_q) / END_Q) ** 3


RULES: Mapping[str, Callable[[Beats], Column]] = {
    "onsets": _onsets,
    "following": _following,
    "chord": _chord,
    "last_beat": _last_beat,
    "before_rest": _before_rest,
    "before_softer": _before_softer,
    "fermata": _fermata,
    "before_fermata": _before_fermata,
    "before_tempo": _before_tempo,
    "slowing": _slowing,
    "hastening": _hastening,
    "end": _end,
}
#  a fermata is held by its reading; where the end is, the order of the bars says
_ELSEWHERE = frozenset({"fermata", "end"})
