"""The case of one place: everything rules, moves and judge ask about it, found once.

Character: ``slow``, ``moderate``, ``fast`` by the tempo words, else by the beat (`appui.style.situation`). Mood:
``sad`` where the words or the manner say so, ``lively`` where it is fast, else ``tender`` (common practice, no source).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from appui.embellish.manners import MANNERS
from appui.embellish.model import Place, Wish
from appui.embellish.phrases import Phrase, phrases_of
from appui.exact import Fraction
from appui.harmony.ground import Footing, Ground
from appui.interpret.interpretation import Interpretation
from appui.plan.compass import compass_of
from appui.plan.embellishment import Span
from appui.score.model import Event, Score
from appui.score.pitch import Pitch
from appui.score.signs import EMBELLISHMENT, Sign
from appui.style.situation import Circumstances, situation_of

__all__ = ["Case", "case_of", "character_at", "mood_at"]

_SAD = re.compile(r"mesto|lament|dolente|dolor|lugubre|flebile|traurig|klag|triste|larmoy", re.IGNORECASE)


@dataclass(frozen=True)
class Case:
    """One place of one interpretation under one wish.

    `low` and `high` are sounding; `within` and `towards` are of a piece of one note (`piece`).
    """

    interpretation: Interpretation
    place: Place
    wish: Wish
    character: str
    mood: str
    quarter_s: Fraction
    low: Pitch
    high: Pitch
    known: tuple[Phrase, ...] = ()
    within: tuple[Event, ...] = ()
    towards: tuple[Fraction, Pitch] | None = None

    def piece(self, index: int, start_q: Fraction, end_q: Fraction, goal: Pitch | None) -> Case:
        """The case of a part of one event, or of the beat that begins with it, with the note it leads to."""
        event = self.voice[index]._replace(onset_q=start_q, duration_q=end_q - start_q)
        span = self.span._replace(first=index, last=index)
        towards = (end_q, goal) if goal is not None else None
        return replace(self, place=self.place._replace(span=span), within=(event,), towards=towards)

    @cached_property
    def phrases(self) -> tuple[Phrase, ...]:
        """The phrases of the voice."""
        return self.known or phrases_of(self.score, self.voice, self.ground)

    @cached_property
    def top(self) -> int:
        """The highest key that is not too high: a tone above what is printed in the movement."""
        return max(int(event.top.sounding.midi) for event in self.voice if event.notes) + 2

    @cached_property
    def last(self) -> list[Any]:
        """The draft that was asked about last, and its notes and pitches (`line.heard`)."""
        return []

    @property
    def span(self) -> Span:
        """The events replaced."""
        return self.place.span

    @property
    def score(self) -> Score:
        """The score."""
        return self.interpretation.score

    @cached_property
    def ground(self) -> Ground:
        """The harmony under the voice."""
        return self.interpretation.analysis.ground(self.span.part, self.span.voice)

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """The events replaced."""
        return self.within or self.span.events(self.score)

    @cached_property
    def voice(self) -> tuple[Event, ...]:
        """All events of the voice."""
        return self.score.parts[self.span.part].voices[self.span.voice].events

    @property
    def start_q(self) -> Fraction:
        """Where the span begins on the printed time line."""
        return self.events[0].onset_q

    @property
    def end_q(self) -> Fraction:
        """Where it ends."""
        return self.events[-1].end_q

    @cached_property
    def lead_q(self) -> Fraction:
        """Under a fermata: how long the others still move while the printed note sounds."""
        return max(self.score.last_onset_q(self.events[0].end_q) - self.start_q, Fraction(0))

    @cached_property
    def held(self) -> Footing | None:
        """What a fermata rests on: the last harmony under it."""
        return self.ground.at(self.start_q + self.lead_q)

    @property
    def following(self) -> Event | None:
        """The next event of the voice, where it follows at once."""
        index = self.span.last + 1
        found = self.voice[index] if index < len(self.voice) else None
        return found if found is not None and found.onset_q == self.end_q else None

    @cached_property
    def goal(self) -> tuple[Fraction, Pitch] | None:
        """The next note of the voice after the span, rests passed over: its printed moment and sounding pitch."""
        if self.towards is not None:
            return self.towards
        for event in self.voice[self.span.last + 1 :]:
            if event.notes:
                return event.onset_q, event.top.sounding
        return None

    @property
    def before(self) -> Pitch | None:
        """The note before the span, where it leads on without a rest."""
        found = self.voice[self.span.first - 1] if self.span.first else None
        return found.top.sounding if found is not None and found.notes and found.end_q == self.start_q else None

    def seconds(self, value_q: Fraction) -> float:
        """How long a value lasts in the time of the place."""
        return float(value_q * self.quarter_s)

    def moment_q(self, at_q: Fraction) -> Fraction:
        """Where a moment of a draft's own time is judged on the printed time line; the free stretch as one moment."""
        if self.span.held and at_q > self.lead_q:
            return self.start_q + self.lead_q
        return self.start_q + at_q

    def on_beat(self, printed_q: Fraction) -> bool:
        """Whether a moment falls on a beat of its bar."""
        bar = self.score.bar_at(printed_q)
        return (printed_q - bar.onset_q + bar.lead_q) % bar.meter.beat_q == 0


def character_at(interpretation: Interpretation, span: Span) -> str:
    """``slow``, ``moderate`` or ``fast``."""
    sign = Sign("", EMBELLISHMENT, span.part, span.voice, span.first, 0)
    qpm = interpretation.score.tempo_at(sign.onset_q(interpretation.score)).qpm
    return str(situation_of(interpretation.score, sign, None, Circumstances(qpm))["character"])


def case_of(interpretation: Interpretation, place: Place, wish: Wish, phrases: tuple[Phrase, ...] = ()) -> Case:
    """The case of a place; `phrases` those of its voice where they are known already."""
    score, span = interpretation.score, place.span
    onset_q = span.events(score)[0].onset_q
    character = character_at(interpretation, span)
    low, high = _range(interpretation, span, wish)
    mood = MANNERS[wish.manner].mood or mood_at(interpretation, onset_q, character)
    return Case(
        interpretation,
        place,
        wish,
        character,
        mood,
        60 / (score.tempo_at(onset_q).qpm * interpretation.factor),
        low,
        high,
        phrases,
    )


def mood_at(interpretation: Interpretation, onset_q: Fraction, character: str) -> str:
    """``sad``, ``lively`` or ``tender``."""
    words = " ".join(mark.words for mark in interpretation.score.tempos if mark.onset_q <= onset_q)
    if _SAD.search(words):
        return "sad"
    return "lively" if character == "fast" else "tender"


def _range(interpretation: Interpretation, span: Span, wish: Wish) -> tuple[Pitch, Pitch]:
    part = interpretation.score.parts[span.part]
    compass = compass_of(part)
    transposition = part.transposition_at(span.events(interpretation.score)[0].onset_q)
    low, high = wish.low or compass.easy_low, wish.high or compass.easy_high
    return transposition.sounding(low), transposition.sounding(high)
