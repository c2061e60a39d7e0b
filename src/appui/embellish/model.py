"""What the room of free embellishment takes and gives: wishes, places, drafts, proposals.

Conventions: pitches are sounding ones unless said to be written; a draft's moments are quarter notes of its own time,
from the start of what it replaces.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from appui.exact import Fraction
from appui.plan.embellishment import Embellishment, Span
from appui.score.pitch import Pitch
from appui.style.free import FreeLine

__all__ = ["AMOUNTS", "KINDS", "Draft", "DraftNote", "Figure", "LeftAlone", "Place", "Proposal", "Wish"]

#  kind            what it is
KINDS = {
    "cadenza": "over a fermata on a cadential six-four, before the last trill",
    "lead-in": "over a fermata on a dominant, into what comes next",
    "fermata": "over a fermata on another chord",
    "cadence": "the note before a close, printed without a trill",
    "second-time": "what has been heard before",
    "long-notes": "bare steps, leaps and long notes where there is time",
}
AMOUNTS = ("sparse", "moderate", "rich")


@dataclass(frozen=True, slots=True)
class Wish:
    """What the player asks for: `low` and `high` are written pitches, `breath_s` seconds in one breath.

    10 s is a design value between 8 and 12 (for one breath: memory, see `rules`).
    """

    places: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    how_much: str = "moderate"
    count: int = 4
    seed: int = 1
    low: Pitch | None = None
    high: Pitch | None = None
    breath_s: Fraction = Fraction(10)
    manner: str = "free"


class Place(NamedTuple):
    """Where something may be added: its name, kind, span, why it is a place, and on whose word.

    `repeated`: in a bar that is played twice; what is added there is for the second time.
    """

    place: str
    kind: str
    span: Span
    why: str
    source: str
    repeated: bool = False


class LeftAlone(NamedTuple):
    """Where something is looked at and left as printed, and why."""

    place: str
    why: str


class DraftNote(NamedTuple):
    """One note of a draft: `pitch` `None` for a rest; `mark` what it is for.

    ``printed`` (a note of the page), ``peak``, ``low``, ``run``, ``chord``, ``turn``, ``lean``, ``arrival``, ``rest``,
    ``figure`` (a motive of the piece), ``chromatic``.
    """

    pitch: Pitch | None
    value_q: Fraction
    mark: str = "run"
    trill: bool = False


class Figure(NamedTuple):
    """A motive of the piece said on a chord, so many times in a row: letter positions (`Pitch.diatonic`) and values.

    `likeness` 0..1: the share of its intervals kept; `weight` 0..1: 1 for the chief motive of the piece.
    """

    letters: tuple[int, ...]
    values_q: tuple[Fraction, ...]
    times: int
    likeness: float
    weight: float
    words: str


@dataclass(frozen=True, slots=True)
class Draft:
    """A candidate: its notes, those after the bar line of a fermata, its moves in words, the piece's figure in it.

    `plan`: under a fermata the name of its plan.
    """

    notes: tuple[DraftNote, ...]
    in_time: tuple[DraftNote, ...] = ()
    words: tuple[str, ...] = ()
    fits: frozenset[str] = frozenset()
    figure: Figure | None = None
    plan: str = ""

    @property
    def all(self) -> tuple[DraftNote, ...]:
        """Every note."""
        return self.notes + self.in_time

    @property
    def length_q(self) -> Fraction:
        """How long the notes before the bar line are, in their own time."""
        return sum((note.value_q for note in self.notes), Fraction(0))


@dataclass(frozen=True, slots=True)
class Proposal:
    """One thing to play at a place. `score` is the judge's, higher is better; `plain` has no notes of its own."""

    place: Place
    words: str
    line: FreeLine
    embellishment: Embellishment
    score: float
    terms: dict[str, float] = field(default_factory=dict)
