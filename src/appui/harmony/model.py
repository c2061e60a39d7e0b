"""What the harmony room says of one sign: the chord, the evidence, and what each small note is in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.pitch import Pitch
from appui.score.words import Membership

__all__ = ["DISSONANCE", "MEMBER", "UNKNOWN", "Evidence", "Verdict"]

MEMBER: Membership = "chord member"
DISSONANCE: Membership = "dissonance"
UNKNOWN: Membership = "unknown"


class Evidence(NamedTuple):
    """One note that speaks for the verdict: whose it is, what it is, from when to when (printed quarter notes)."""

    part: str
    pitch: Pitch
    start_q: Fraction
    end_q: Fraction


@dataclass(frozen=True, slots=True)
class Verdict:
    """The harmony under one sign and what its small notes are in it.

    `label` is a chord name (``G7/B``); `root` and `bass` are spelled pitch classes, `quality` one of the template
    names, `figure` the figured-bass shorthand (``6/5``, empty for a root-position triad); `pitches` the chord as
    spelled. `members`, `member_chances` and `leans` have one entry a small note, in printed order; for a sign without
    small notes they are empty. Of small notes struck together these say the least: a dissonance where one of them is;
    `struck` has each of them by itself, as printed. `leans` is `None` where the harmony does not tell. `confidence` is
    0..1: the chance that the membership verdict on the (first) small note, or without small notes the chord, is right;
    below `doubtful_below` it is called doubtful. `before_written_out`: the main note is itself a leaning note, printed
    at full size. `key` and `roman` are empty where the local key is not sure. `words` says it all in one clause for the
    table; `quality` says so where figures or chord symbols are printed.
    """

    label: str
    root: str
    quality: str
    bass: str
    figure: str
    key: str
    roman: str
    confidence: float
    pitches: tuple[str, ...]
    members: tuple[Membership, ...]
    member_chances: tuple[float, ...]
    leans: tuple[bool | None, ...]
    main_member: bool | None
    evidence: tuple[Evidence, ...]
    runner_up: str
    words: str
    bass_interval: str = ""
    resolves_by_step: bool | None = None
    octave_with_bass: bool = False
    six_four: bool = False
    doubtful: bool = False
    before_written_out: bool = False
    struck: tuple[tuple[Membership, ...], ...] = ()

    def __str__(self) -> str:
        return f"{self.label}: {self.words}" if self.known and self.words else self.words or self.label

    @property
    def known(self) -> bool:
        """Whether any harmony was found."""
        return bool(self.root)
