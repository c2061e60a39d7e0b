"""Free embellishment as notes: what stands in the place of printed ones once a player has written it.

Values and lengths are exact, in quarter notes. On a fermata the notes before the bar line are free of the bar; those
after it are in time again, and with the bar line the others come in.
"""

from __future__ import annotations

from typing import NamedTuple

from appui.exact import Fraction
from appui.score.pitch import Pitch
from appui.score.words import Role

__all__ = ["SWELL_S", "Free", "FreeLine", "FreeNote", "Played"]

#  seconds a note lasts at least that is swelled where it stands alone (messa di voce; the number is ours)
SWELL_S = 1.5


class FreeNote(NamedTuple):
    """One note as written: its pitch (`None` a rest), its value in quarters, whether it is trilled."""

    pitch: Pitch | None
    value_q: Fraction
    trill: bool = False

    @property
    def text(self) -> str:
        """As a plan has it.

        >>> FreeNote(Pitch("D", 0, 5), Fraction(2), True).text
        'D5:1/2:tr'
        """
        name = self.pitch.name if self.pitch is not None else "r"
        return f"{name}:{self.value_q / 4}" + (":tr" if self.trill else "")


class FreeLine(NamedTuple):
    """The notes of one embellishment; `in_time` those after the bar line of a fermata, when the others play again."""

    notes: tuple[FreeNote, ...]
    in_time: tuple[FreeNote, ...] = ()

    @property
    def free_q(self) -> Fraction:
        """How long the notes before the bar line are."""
        return sum((note.value_q for note in self.notes), Fraction(0))

    @property
    def in_time_q(self) -> Fraction:
        """How long the notes after it are."""
        return sum((note.value_q for note in self.in_time), Fraction(0))

    @property
    def all(self) -> tuple[FreeNote, ...]:
        """Every note, in order."""
        return self.notes + self.in_time


class Played(NamedTuple):
    """One note ready to be played, at sounding pitch: `trill` its upper and lower note, `role` as of a `Tone`."""

    pitch: Pitch | None
    value_q: Fraction
    trill: tuple[Pitch, Pitch] | None = None
    role: Role = "free"


class Free(NamedTuple):
    """An embellishment in its place: `written` as the player reads it, `notes` as they sound.

    `last` is the index of the last event it replaces, `span_q` their printed length; `second_time`: played only when
    its bar comes again in a repeat; `unchecked`: its harmony is the player's own affair. Over a fermata `held_q` is the
    printed length of the held note, else 0: what is written before the bar line, `free_q` long, fills it, all parts
    waiting from `lead_q` on, where the last of the others begins.
    """

    written: FreeLine
    notes: tuple[Played, ...]
    last: int
    span_q: Fraction
    held_q: Fraction = Fraction(0)
    lead_q: Fraction = Fraction(0)
    free_q: Fraction = Fraction(0)
    second_time: bool = False
    unchecked: bool = False

    @property
    def times(self) -> Fraction:
        """How many times its length the held stretch lasts; 1 without a fermata."""
        if not self.held_q:
            return Fraction(1)
        return (self.free_q - self.lead_q) / (self.held_q - self.lead_q)

    def moment_q(self, at_q: Fraction) -> Fraction:
        """Where a moment of the notes' own time falls in the printed span."""
        if not self.held_q or at_q <= self.lead_q:
            return at_q
        if at_q <= self.free_q:
            return self.lead_q + (at_q - self.lead_q) / self.times
        return self.held_q + at_q - self.free_q
