"""Levels: what the dynamics, hairpins and accents of a part ask for, in dB below full velocity.

Conventions: level dB = 40 log10(velocity / 127) (SoundFont 2.04 default modulator 8.4.1, read), so 0 dB is velocity
127. Forte is velocity 90, MusicXML's default forte (read); the other marks stand about 4 dB apart around it (common
practice, no source). A hairpin leads from the level where it starts to the next mark within a bar of its end, else
one mark's step louder or softer.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from appui.exact import Fraction
from appui.score.model import Dynamic, Hairpin, Part

__all__ = ["ACCENTS_DB", "DEFAULT_MARK", "FORTE", "MARKS", "LevelCurve", "db_of", "velocity_of"]

FORTE = 90
#        mark    velocity
MARKS = {"pppp": 24, "ppp": 31, "pp": 40, "p": 51, "mp": 63, "mf": 76, "f": 90, "ff": 106, "fff": 117, "ffff": 124}
DEFAULT_MARK = "mf"
# marks that stress one note: how much, and the level that follows (none: as before)
STRESSES = {
    "sf": "",
    "sfz": "",
    "fz": "",
    "sffz": "",
    "rf": "",
    "rfz": "",
    "sfp": "p",
    "sfpp": "pp",
    "fp": "p",
    "pf": "f",
}
STRESS_DB = 4.0
STEP_DB = 4.0
ACCENTS_DB = {"accent": 3.0, "strong-accent": 4.5, "stress": 3.0, "unstress": -2.0}


def db_of(velocity: float) -> float:
    """Level of a MIDI velocity, dB below 127.

    >>> round(db_of(64), 2)
    -11.9
    """
    return 40 * math.log10(velocity / 127)


@lru_cache(maxsize=4096)
def velocity_of(level_db: float) -> int:
    """The MIDI velocity, 1..127, nearest to a level."""
    return max(1, min(127, round(127 * 10 ** (level_db / 40))))


@dataclass(slots=True)
class LevelCurve:
    """The written level of a part at any printed moment."""

    onsets: list[float]
    points: list[tuple[float, float, float]]  # level at the onset, until when it changes, level then
    stresses: dict[float, float]

    @classmethod
    def of(cls, part: Part) -> LevelCurve:
        """The curve of a part's marks and hairpins."""
        steps, stresses = _steps(part.dynamics)
        points = {onset_q: (level, onset_q, level) for onset_q, level in steps.items()}
        points.setdefault(Fraction(-1), (db_of(MARKS[DEFAULT_MARK]), Fraction(-1), db_of(MARKS[DEFAULT_MARK])))
        for hairpin in sorted(part.hairpins, key=lambda h: h.onset_q):
            _add_hairpin(points, hairpin, steps)
        onsets = sorted(points)
        changes = [(points[q][0], float(points[q][1]), points[q][2]) for q in onsets]
        return cls([float(q) for q in onsets], changes, {float(q): level for q, level in stresses.items()})

    def at(self, printed_q: float) -> float:
        """Level in dB at a printed moment (quarters, as a float), without accents."""
        index = bisect_right(self.onsets, printed_q) - 1
        start_db, end_q, end_db = self.points[index]
        start_q = self.onsets[index]
        if printed_q >= end_q or end_q == start_q:
            return end_db
        return start_db + (end_db - start_db) * (printed_q - start_q) / (end_q - start_q)

    def stress(self, printed_q: float) -> float:
        """What a mark such as sfz adds to the notes that start at this moment, dB."""
        return self.stresses.get(printed_q, 0.0)


def _steps(dynamics: Iterable[Dynamic]) -> tuple[dict[Fraction, float], dict[Fraction, float]]:
    steps: dict[Fraction, float] = {}
    stresses: dict[Fraction, float] = {}
    for dynamic in dynamics:
        if dynamic.mark in STRESSES:
            stresses[dynamic.onset_q] = STRESS_DB
            after = STRESSES[dynamic.mark]
            if after:
                # fp: the stressed note stands at the first level, what follows at the second
                steps[dynamic.onset_q] = db_of(MARKS[after])
                stresses[dynamic.onset_q] = max(STRESS_DB, db_of(MARKS["f"]) - db_of(MARKS[after]))
        elif dynamic.mark in MARKS:
            steps[dynamic.onset_q] = db_of(MARKS[dynamic.mark])
        elif dynamic.percent:
            steps[dynamic.onset_q] = db_of(max(1.0, min(127.0, FORTE * float(dynamic.percent) / 100)))
    return steps, stresses


def _add_hairpin(
    points: dict[Fraction, tuple[float, Fraction, float]], hairpin: Hairpin, steps: dict[Fraction, float]
) -> None:
    before = max((onset_q for onset_q in points if onset_q <= hairpin.onset_q), default=Fraction(-1))
    start_db = points[before][2]
    sign = 1 if hairpin.kind == "crescendo" else -1
    target = next((steps[q] for q in sorted(steps) if hairpin.end_q <= q <= hairpin.end_q + 4), None)
    if target is None or (target - start_db) * sign <= 0:
        target = max(db_of(MARKS["pppp"]), min(db_of(MARKS["ffff"]), start_db + sign * STEP_DB))
    points[hairpin.onset_q] = (start_db, hairpin.end_q, target)
    # marks inside the hairpin give way to it; the one at its end confirms it
    for onset_q in [q for q in points if hairpin.onset_q < q < hairpin.end_q]:
        del points[onset_q]
