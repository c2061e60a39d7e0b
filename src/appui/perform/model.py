"""What is played: notes in seconds with levels, ready for a MIDI file or a synthesizer.

Conventions: `*_q` are exact quarter notes on the *performed* time line, which starts at 0 with whatever sounds or
counts first; `*_s` are seconds from the same point. Velocities are MIDI 1..127 with level dB = 40 log10(v/127)
(SoundFont 2.04 default modulator, section 8.4.1, read).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from operator import attrgetter
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.pitch import Pitch
from appui.score.words import Role

__all__ = ["Control", "Mark", "PerformedNote", "PerformedPart", "Performance", "TempoStep", "Tuning"]


class PerformedNote(NamedTuple):
    """One sounding note. `key` is the MIDI key; `role` what it is for (``plain``, ``lean``, ``release``, ``trill`` …).

    `sign` is the place name of the sign it realizes, `None` for a plain note. `terms` are what a shaped level is the
    sum of, names and dB; empty where it is not shaped.
    """

    onset_q: Fraction
    duration_q: Fraction
    onset_s: float
    duration_s: float
    pitch: Pitch
    key: int
    velocity: int
    role: Role = "plain"
    sign: str | None = None
    terms: tuple[tuple[str, float], ...] = ()


class Control(NamedTuple):
    """A controller change (number 0..127, value 0..127), such as expression, CC 11."""

    onset_q: Fraction
    onset_s: float
    number: int
    value: int


@dataclass(frozen=True, slots=True)
class PerformedPart:
    """One part as played. `program` 0..127; `percussion` parts play on the percussion channel."""

    id: str
    name: str
    program: int
    notes: tuple[PerformedNote, ...]
    controls: tuple[Control, ...] = ()
    percussion: bool = False
    solo: bool = False
    volume: int = 100
    pan: int = 64

    @property
    def apart(self) -> bool:
        """Whether it is to be heard on one side only."""
        return self.pan in (0, 127)


class TempoStep(NamedTuple):
    """From here on `qpm` quarter notes a minute."""

    onset_q: Fraction
    onset_s: float
    qpm: Fraction


class Mark(NamedTuple):
    """A named moment: `kind` is ``bar``, ``sign``, ``meter`` (``6/8``), ``key`` (``-3 minor``), ``round``."""

    onset_q: Fraction
    kind: str
    text: str


class Tuning(NamedTuple):
    """How keys sound: A4 at `a4_hz`, each pitch class from C off equal temperament by so many cents, A itself by 0."""

    name: str
    a4_hz: float
    offsets_cents: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Performance:
    """Everything a MIDI file or an audio file is made from. `length_s` includes the last note's end.

    `lead_q` is how long before the first printed beat the time line starts, for small notes before it. Without a
    `tuning` it is equal temperament at 440 Hz. `notices` are what had to be said on the way: (place, words).
    `raw_samples` leaves a SoundFont's samples as true or untrue as they are.
    """

    title: str
    parts: tuple[PerformedPart, ...]
    tempos: tuple[TempoStep, ...]
    marks: tuple[Mark, ...]
    length_q: Fraction
    length_s: float
    lead_q: Fraction = Fraction(0)
    tuning: Tuning | None = None
    notices: tuple[tuple[str, str], ...] = ()
    raw_samples: bool = False

    def step_at(self, onset_q: Fraction) -> TempoStep:
        """The tempo at a performed position."""
        return self.tempos[max(bisect_right(self.tempos, onset_q, key=attrgetter("onset_q")) - 1, 0)]

    def seconds(self, onset_q: Fraction) -> float:
        """The moment of a performed position, in seconds."""
        found = self.step_at(onset_q)
        return found.onset_s + float((onset_q - found.onset_q) * 60 / found.qpm)
