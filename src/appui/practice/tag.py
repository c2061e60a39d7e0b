"""What a track tells of itself in its comment, so that a take over it can be heard: its bars, rounds and tempos.

    for takes: bars=1-8 repeats=no rounds=3.3333,13.3333 tempo=0@0.0000/72

`rounds` are the seconds at which a round without the solo begins; `tempo` the moments of the track, in quarter notes
and seconds, from which on so many quarter notes a minute are played.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction as Exact

from appui.exact import Fraction
from appui.perform.model import TempoStep
from appui.practice.track import Track
from appui.practice.wish import AS_WRITTEN

__all__ = ["TrackTimes", "tag_of", "times_in"]

_TAG = re.compile(r"for takes: bars=(\S+) repeats=(yes|no) rounds=(\S+) tempo=(\S+)")
_MOST_STEPS = 20_000


@dataclass(frozen=True, slots=True)
class TrackTimes:
    """When what is played in a track: its bars (`None` for all), its rounds (s), its tempos."""

    bars: str | None
    repeats: bool
    rounds_s: tuple[float, ...]
    tempos: tuple[TempoStep, ...]

    def seconds(self, round_s: float, onset_q: Fraction) -> float:
        """The moment of the track at which a round that begins at `round_s` has come to a position of its bars."""
        return self._seconds(self._quarters(round_s) + float(onset_q))

    def _quarters(self, at_s: float) -> float:
        step = self.tempos[max(bisect_right([each.onset_s for each in self.tempos], at_s + 1e-4) - 1, 0)]
        return float(step.onset_q) + (at_s - step.onset_s) * float(step.qpm) / 60

    def _seconds(self, at_q: float) -> float:
        step = self.tempos[max(bisect_right([float(each.onset_q) for each in self.tempos], at_q + 1e-6) - 1, 0)]
        return step.onset_s + (at_q - float(step.onset_q)) * 60 / float(step.qpm)


def tag_of(track: Track) -> str:
    """What a track tells of itself; empty for one without a round for the player, or in another key."""
    if track.wish.interval != AS_WRITTEN:
        return ""
    rounds = [at for at, alone in zip(track.round_s, track.round_alone, strict=True) if alone]
    if not rounds:
        return ""
    bars, repeats = track.wish.bars or "all", "yes" if track.wish.repeats else "no"
    tempo = ",".join(f"{step.onset_q}@{step.onset_s:.4f}/{step.qpm}" for step in track.tempos)
    return f"for takes: bars={bars} repeats={repeats} rounds={','.join(f'{at:.4f}' for at in rounds)} tempo={tempo}"


def times_in(comment: str) -> TrackTimes | None:
    """What a comment tells, `None` where it tells nothing of the kind."""
    found = _TAG.search(comment)
    if found is None:
        return None
    bars, repeats, rounds, tempo = found.groups()
    try:
        steps = [_step(each) for each in tempo.split(",")[:_MOST_STEPS]]
        starts = tuple(float(each) for each in rounds.split(",")[:_MOST_STEPS])
    except (ValueError, ZeroDivisionError):
        return None
    if any(step.qpm <= 0 for step in steps):
        return None
    return TrackTimes(None if bars == "all" else bars, repeats == "yes", starts, tuple(steps))


def _step(text: str) -> TempoStep:
    onset_q, _, rest = text.partition("@")
    onset_s, _, qpm = rest.partition("/")
    return TempoStep(Fraction(Exact(onset_q)), float(onset_s), Fraction(Exact(qpm)))
