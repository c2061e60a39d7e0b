"""Trials: which music, which answer, and the performances to be heard.

A sitting is a chain of trials made from one seed: trial 7 of a seed is the same whatever was answered before, but for
its level. Right answers are balanced: in every six trials each answer is right equally often, in an order of chance.
Kinds with two intervals have a trial with equal intervals among every ten; they are no steps of the staircase, and show
which interval a player calls louder or longer when nothing is.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from appui.drill.answers import CATCH, Ask
from appui.drill.invent import invent
from appui.drill.kinds import Kind
from appui.drill.phrase import Phrase, Setting
from appui.drill.words import explained
from appui.exact import Fraction
from appui.perform.model import Performance

__all__ = ["CATCH_AMONG", "Material", "Trial", "answers_of", "make_trial"]

CATCH_AMONG = 10
_BLOCK = 6
#  tempos a phrase is played at, times the asked one; and the slowest where its notes are too short for a level
_TEMPOS = (0.85, 1.2)
_SLOWEST = 0.3
_KEYS = range(-6, 7)


@dataclass(frozen=True)
class Material:
    """What trials are made of: phrases of scores, or invented ones where there are none, `factor` times their tempo."""

    phrases: tuple[Phrase, ...] = ()
    factor: Fraction = Fraction(1)

    def choose(self, kind: Kind, answer: int, level: float, chance: random.Random) -> Phrase:
        """A phrase that this answer can be right for, with room for the level; invented where the scores have none."""
        fitting = self._fitting(kind, answer, level)
        if fitting:
            return chance.choice(fitting)
        member = answer == 0 if kind.told_by_harmony else False if kind.leaning else None
        return invent(chance, trill=kind.sign == "trill", member=member)

    def _fitting(self, kind: Kind, answer: int, level: float) -> list[Phrase]:
        roomy = [phrase for phrase in self.phrases if _fastest(kind, phrase, level) >= _SLOWEST]
        if kind.told_by_harmony:
            answers = range(len(kind.answers))
            if not all(any(kind.fits(phrase, each) for phrase in roomy) for each in answers):
                # invented for one answer and real for the other, where the music is from would tell which is right
                return []
        return [phrase for phrase in roomy if kind.fits(phrase, answer)]

    def lacks(self, kind: Kind) -> list[str]:
        """What the scores have no place for, so that invented phrases stand in; empty where scores are not asked."""
        if not self.phrases:
            return []
        found = [
            f"where {answer!r} is right"
            for number, answer in enumerate(kind.answers)
            if kind.told_by_harmony and not any(kind.fits(phrase, number) for phrase in self.phrases)
        ]
        if not found and not self._fitting(kind, 0, kind.ladder.start):
            found.append("whose notes are long enough to begin with")
        return found


@dataclass(frozen=True)
class Trial:
    """One trial: `answer` counts from 0, `CATCH` where the intervals are equal; `why` explains it."""

    kind: Kind
    number: int
    level: float
    answer: int
    intervals: tuple[Performance, ...]
    setting: Setting
    why: str
    seed: str

    @property
    def origin(self) -> str:
        """Where the music is from, and how far it is moved."""
        return f"{self.setting.phrase.origin}, moved by {self.setting.fifths:+d} fifths"


def answers_of(kind: Kind, seed: str, count: int) -> list[int]:
    """The right answers of the first `count` trials of a seed."""
    chance = random.Random(f"{kind.name} {seed} answers")  # noqa: S311 - chance of music, not of secrets
    answers: list[int] = []
    while len(answers) < count + CATCH_AMONG:
        block = [answer for answer in range(len(kind.answers)) for _ in range(_BLOCK // len(kind.answers))]
        chance.shuffle(block)
        answers += block
    if kind.intervals == 2:
        # not the first of its ten, so that a sitting never begins with one
        for start in range(0, count, CATCH_AMONG):
            answers.insert(start + chance.randrange(1, CATCH_AMONG), CATCH)
    return answers[:count]


def make_trial(kind: Kind, material: Material, seed: str, number: int, level: float, answer: int) -> Trial:
    """The trial of a number (from 0) in a seed's sitting, at a level."""
    chance = random.Random(f"{kind.name} {seed} {number}")  # noqa: S311
    phrase = material.choose(kind, answer, level, chance)
    setting = _set(kind, phrase, material.factor * phrase.factor, level, chance)
    intervals = kind.take(Ask(chance, setting, level, answer))
    return Trial(kind, number, level, answer, intervals, setting, explained(kind, setting, level, answer), seed)


def _set(kind: Kind, phrase: Phrase, factor: Fraction, level: float, chance: random.Random) -> Setting:
    low, high = (math.log(bound) for bound in _TEMPOS)
    wanted = float(factor) * math.exp(chance.uniform(low, high))
    at = min(wanted, _fastest(kind, phrase, level))
    fifths = chance.choice([key for key in _KEYS if _playable(key - phrase.fifths)])
    return Setting(phrase, fifths - phrase.fifths, Fraction(at).limit_denominator(1000))


def _playable(fifths: int) -> bool:
    return -12 <= fifths <= 12


def _fastest(kind: Kind, phrase: Phrase, level: float) -> float:
    """The fastest tempo, times the written one, at which a phrase has room for a level."""
    main_ms, before_ms = kind.needed_ms(level)
    room = [1000 * phrase.main_s / main_ms] + ([1000 * phrase.before_s / before_ms] if before_ms else [])
    return min(room)
