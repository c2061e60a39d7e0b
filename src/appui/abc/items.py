"""What is typed in a line of ABC music, before it has its place in a bar."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from appui.exact import Fraction
from appui.score.gather import Spot
from appui.score.model import Ornament
from appui.score.pitch import Pitch

__all__ = ["Item", "Mark", "Pending", "Small", "Struck"]


@dataclass(slots=True)
class Small:
    """A small note, or a chord of them, as typed; `spot` is where it comes to stand."""

    pitches: tuple[Pitch, ...]
    length_q: Fraction
    slash: bool
    line: int
    ornaments: tuple[Ornament, ...] = ()
    articulations: frozenset[str] = frozenset()
    tied: bool = False
    spot: Spot = field(default_factory=Spot)


@dataclass(slots=True)
class Struck:
    """A note, chord, rest or gap as typed; `length_q` is its printed length, `ratio` what its tuplet makes of it.

    `ties` say of each pitch whether it is tied on and back. A gap is time in which nothing is printed.
    """

    pitches: tuple[Pitch, ...]
    length_q: Fraction
    line: int
    ratio: Fraction = Fraction(1)
    ties: list[tuple[bool, bool]] = field(default_factory=list)
    ornaments: tuple[Ornament, ...] = ()
    articulations: frozenset[str] = frozenset()
    pauses: frozenset[str] = frozenset()
    fermata: str | None = None
    gap: bool = False
    lyrics: list[str] = field(default_factory=list)
    spot: Spot = field(default_factory=Spot)


@dataclass(slots=True)
class Mark:
    """Something between the notes: `put` is told the index of the bar and the place in it."""

    put: Callable[[int, Fraction], None]


Item = Small | Struck | Mark


@dataclass(slots=True)
class Pending:
    """Decorations that wait for their note, and how many slurs open on it."""

    ornaments: list[Ornament] = field(default_factory=list)
    articulations: set[str] = field(default_factory=set)
    pauses: set[str] = field(default_factory=set)
    fermata: str | None = None
    slurs: int = 0
