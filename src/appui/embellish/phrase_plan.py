"""The plan of a phrase before any note of it: how busy each note is to be, what becomes of its beat, which figures.

Busier towards the goal, the first note and the goal plain; some notes stay as they are beside busy ones. What becomes
of the plain note of a beat (struck, delayed, passed over) and how many notes stand for it follow the proportions of
composers' own varied repeats (measured over C.P.E. Bach's and J.S. Bach's with
``tests/benchmarks/embellish_corpus.py --against``). A phrase has a taste: every figure of the table is liked more or
less in it, so that what is liked comes again in sequence; a phrase that answers an earlier one has the next taste.

Draws are spread evenly (steps of the golden section), decided by seed, variation and phrase alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from hashlib import blake2b
from typing import NamedTuple

from appui.embellish.cells import Cell
from appui.embellish.manners import MANNERS, Manner
from appui.embellish.phrases import Phrase
from appui.exact import Fraction

__all__ = ["PhrasePlan", "Wanted", "draw"]

_GOLDEN = 0.6180339887498949
#  what becomes of the plain note of a beat: struck, delayed; the rest is passed over
_SKELETON = {"slow": (0.59, 0.36), "moderate": (0.52, 0.28), "fast": (0.2, 0.45)}
#  the share of notes that are made more of: of a beat or longer, shorter
_BUSY = {"slow": (0.45, 1.3), "moderate": (0.45, 0.75), "fast": (0.62, 0.62)}
_AMOUNT = {"sparse": 0.7, "moderate": 1.0, "rich": 2.0}
#  seconds of a quick note at least, where four of them are in a beat
_LEAST_S = 0.1
_SLOWEST_S = 0.42
#  of the beats of a long note that is made more of
_EACH = {"sparse": 0.2, "moderate": 0.55, "rich": 0.95}
#  the share of phrases in threes
_TRIPLETS = 0.18
#  bars with fewer notes than printed, and with as many
_THINNER = {"slow": (0.05, 0.12), "moderate": (0.08, 0.20), "fast": (0.10, 0.28)}
#  how much each kind of figure is liked beside the others: by step where it is slow, in chord notes where it is fast
_LIKED = {
    "slow": {"running": 0.65, "turning": 0.4, "sighing": 1.15, "breaking": -0.8, "shifting": -0.45},
    "moderate": {"running": 0.35, "turning": 0.3, "sighing": 0.1, "breaking": -0.1, "shifting": -0.4},
    "fast": {"running": 0.25, "turning": 0.25, "sighing": 0.0, "breaking": 0.0, "shifting": -0.35},
}
#  the share of notes passed over that quick notes stand for
_MOVED = 0.6
_FAMILIES = ("turning", "running", "breaking", "sighing", "shifting")
#  how much busier at the goal than at the start of a phrase
_RISE = 0.4


class Wanted(NamedTuple):
    """What is wanted of one note: how many onsets, what becomes of it, whether a semitone that is not of the key."""

    onsets: float
    treatment: str
    chromatic: bool


@lru_cache(maxsize=65536)
def draw(*words: object) -> float:
    """A number from 0 to below 1 that only the words decide."""
    digest = blake2b(repr(words).encode(), digest_size=4).digest()
    return int.from_bytes(digest, "big") / 2**32


@cache
def _family_pair(key: tuple[object, ...], families: tuple[str, ...]) -> tuple[str, str]:
    ranked = sorted(families, key=lambda family: draw(*key, family))
    return ranked[0], ranked[1]


@dataclass(frozen=True, slots=True)
class PhrasePlan:
    """The plan of one phrase in one variation.

    `character` is of `Case`, `beat_s` and `quarter_s` are a beat and a quarter in seconds.
    """

    phrase: Phrase
    seed: int
    variation: int
    amount: str
    manner: str
    character: str
    beat_s: float
    quarter_s: float

    @property
    def own(self) -> Manner:
        """The manner's row."""
        return MANNERS[self.manner]

    @property
    def key(self) -> tuple[object, ...]:
        """What decides its taste: an answer has the next of what it answers."""
        if self.phrase.said is None:
            return self.seed, self.variation, self.phrase.first
        return self.seed, self.variation + 1, self.phrase.said

    @property
    def families(self) -> tuple[str, str]:
        """The two kinds of figures it works with."""
        return _family_pair(self.key, self.own.families or _FAMILIES)

    @property
    def rate(self) -> int:
        """How many quick notes a beat has."""
        if draw(*self.key, "threes") < _TRIPLETS and self.beat_s / 3 >= _LEAST_S:
            return 3
        rate = 4 if self.beat_s / 4 >= max(_LEAST_S, self.own.least_s) else 2
        return 2 * rate if self.beat_s / rate > _SLOWEST_S and not self.own.least_s else rate

    def taste(self, cell: Cell) -> float:
        """How much a figure is liked: 0..1 by the phrase, more for its own kinds, and for what suits the pace."""
        own = draw(*self.key, cell.name, cell.notes, cell.shares) + 0.5 * (cell.family in self.families)
        return own + _LIKED[self.character].get(cell.family, 0.0)

    def spread(self, index: int, *words: object) -> float:
        """Numbers from 0 to below 1, even over neighbouring events."""
        return (draw(self.seed, self.variation, self.phrase.first, *words) + index * _GOLDEN) % 1.0

    def bar_mode(self, bar: int) -> str:
        """``thinner``, ``same`` or ``richer``: how many notes a bar is to have beside the printed ones."""
        drawn = (draw(self.seed, self.variation, "mode") + bar * _GOLDEN) % 1.0
        thinner, same = (share / _AMOUNT[self.amount] for share in _THINNER[self.character])
        return "thinner" if drawn < thinner else "same" if drawn < same else "richer"

    def wanted(self, index: int, bar: int, beats: Fraction, *, on_beat: bool, sub: int = 0, of: int = 1) -> Wanted:
        """What is wanted of an event of the voice, or of its beat `sub` of so many: `beats` is how long that is."""
        treatment = self._treatment(index) if on_beat and not sub else "struck"
        chromatic = self.spread(index, sub, "chromatic") < self.own.chromatic
        onsets = self._onsets(index, bar, beats, treatment, sub, of)
        return Wanted(onsets, treatment, chromatic)

    def _onsets(self, index: int, bar: int, beats: Fraction, treatment: str, sub: int, of: int) -> float:
        plain = 0.0 if sub else 1.0
        mode = self.bar_mode(bar)
        many = max(2.0, self.rate * float(min(beats, Fraction(1))))
        if mode == "thinner":
            return plain if beats >= 1 else 0.5
        if treatment == "delayed":
            return many if of == 1 else 2.0
        if mode == "same" or index in (self.phrase.first, self.phrase.last):
            return plain
        passed = treatment == "passed over" and self.spread(index, "moved") < _MOVED
        busy = self.spread(index, "busy") < self._busy(index, beats)
        # of a long note the last beat, and others as the amount says
        here = sub == of - 1 or self.spread(index, sub, "beat") < _EACH[self.amount]
        return many if (busy and here) or passed else plain

    def _treatment(self, index: int) -> str:
        if index in (self.phrase.first, self.phrase.last):
            return "struck"
        struck, delayed = _SKELETON[self.character]
        struck += self.own.struck
        drawn = self.spread(index, "skeleton")
        return "struck" if drawn < struck else "delayed" if drawn < struck + delayed else "passed over"

    def _busy(self, index: int, beats: Fraction) -> float:
        share = _BUSY[self.character][beats < 1]
        curve = 1 - _RISE / 2 + _RISE * self.phrase.place(index)
        return share * curve * _AMOUNT[self.amount] * self.own.busy
