"""What the line says where the chord is thin: the small note and its main note weighed together.

Where two or more other notes sound, the chord is plain. Where a small note has only one note under it, or none at that
moment, several chords fit and the line tells more: a main note that is itself a suspension or leaning note printed at
full size, small notes that play around their main note, one that leaps on. So there the log-odds of the chord and a few
facts of the line are weighed in one sum, whose chance is the verdict. The weights are a logistic regression on the
small notes of two sets of scores with an expert's chord (`tests.benchmarks.harmony_labels` fits them anew and says
what they are worth on works and composers left out). What is weighed was chosen with these labels known.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from appui.harmony.belonging import Membership
from appui.score.model import Event, Score
from appui.score.pitch import Pitch
from appui.score.signs import Sign

__all__ = [
    "CONSTANT",
    "LEANS",
    "WEIGHTS",
    "Facts",
    "facts_of",
    "following_pitch",
    "is_heard",
    "is_thin",
    "reason_of",
    "weighed",
    "with_main",
]

_EVEN = 0.5
_FEW = 2
_SUREST, _SURE_NEXT, _LONG = 6.0, 5.0, 2.0
#  semitones above the bass, without octaves
_CONSONANT = frozenset({0, 3, 4, 7, 8, 9})


class Facts(NamedTuple):
    """The facts of one small note, or their weights: each is multiplied by its weight, and all are added up.

    `chord` is the log-odds that it belongs, by the chords alone (-6..6); `main_leans`: it is consonant with the bass,
    its main note is not and steps down; `plays_round`: it steps down within a group; `leaps_on`: it does not step on;
    `next_belongs` the log-odds that what follows the main note belongs to the chord here (-5..5, 0: nothing follows);
    `main_beats` how many beats the main note lasts, 2 at most; `alone`: nothing sounds with the main note.
    """

    chord: float
    main_leans: float
    plays_round: float
    leaps_on: float
    next_belongs: float
    main_beats: float
    alone: float


CONSTANT = -2.19
WEIGHTS = Facts(
    chord=1.03, main_leans=2.84, plays_round=1.93, leaps_on=2.32, next_belongs=-0.25, main_beats=1.10, alone=1.72
)
_REASONS = {
    "main_leans": "its main note is dissonant with the bass and steps down, as a leaning note does",
    "plays_round": "the small notes play around their main note",
    "leaps_on": "it leaps on, which a leaning note does not",
    "main_beats": "little else sounds, and its main note is long",
    "alone": "nothing sounds with its main note",
}
#  the reason that says the main note leans
LEANS = _REASONS["main_leans"]
_AGAINST = "little else sounds, and it goes on as a leaning note does"


def is_heard(sign: Sign, known: Membership) -> bool:
    """Whether small notes before a main note have a chord that is heard at that very moment."""
    return sign.kind == "small notes" and known.certainty >= 1


def is_thin(score: Score, sign: Sign, known: Membership) -> bool:
    """Whether the line is asked: small notes over at most one other note, the chord heard at that very moment."""
    return is_heard(sign, known) and len(with_main(score, sign, known)) < _FEW


def with_main(score: Score, sign: Sign, known: Membership) -> set[int]:
    """The pitch classes that sound with the main note."""
    event = sign.main(score)
    own = {_class(n.sounding) for i, n in enumerate(event.notes) if i != sign.note}
    return own | {int(each) for each in np.flatnonzero(known.sounding)}


def facts_of(score: Score, sign: Sign, index: int, pitch: Pitch, known: Membership, bass: Pitch | None) -> Facts:
    """The facts of one small note (`index` in its group; `pitch`, as some are chords) over a bass that may be unknown.

    The sign has a main note.
    """
    event, small = sign.main(score), sign.small
    main = event.notes[sign.note].sounding
    following = following_pitch(score, sign, main)
    path = [*(each.sounding[0] for each in small[index + 1 :]), main]
    down = pitch.diatonic - path[0].diatonic
    here = _log_odds(known, following, _SURE_NEXT) if following is not None else 0.0
    return Facts(
        chord=_log_odds(known, pitch, _SUREST),
        main_leans=float(_leans(pitch, main, following, bass)),
        plays_round=float(down == 1 and len(small) > 1),
        leaps_on=float(abs(down) > 1),
        next_belongs=here,
        main_beats=min(float(event.duration_q / score.bars[event.bar].meter.beat_q), _LONG),
        alone=float(not with_main(score, sign, known)),
    )


def weighed(facts: Facts, constant: float = CONSTANT, weights: Facts = WEIGHTS) -> float:
    """The chance that a small note belongs to the chord, all facts together."""
    total = constant + sum(fact * weight for fact, weight in zip(facts, weights, strict=True))
    return float(1 / (1 + np.exp(-total)))


def reason_of(facts: Facts, chord_chance: float) -> str:
    """What decided, in words, where the line overturns what the chord alone says; else nothing."""
    member = weighed(facts) >= _EVEN
    if member == (chord_chance >= _EVEN):
        return ""
    if not member:
        return _AGAINST
    speaks = {name: getattr(facts, name) * getattr(WEIGHTS, name) for name in _REASONS}
    return _REASONS[max(speaks, key=lambda name: speaks[name])]


def _log_odds(known: Membership, pitch: Pitch, most: float) -> float:
    chance = float(np.clip(known.contained[_class(pitch)], 1e-6, 1 - 1e-6))
    return float(np.clip(np.log(chance / (1 - chance)), -most, most))


def following_pitch(score: Score, sign: Sign, main: Pitch) -> Pitch | None:
    """What follows the main note in its voice; of a chord the note nearest to it."""
    events = score.parts[sign.part].voices[sign.voice].events
    following: Event | None = events[sign.event + 1] if sign.event + 1 < len(events) else None
    notes = following.notes if following is not None else ()
    return min((note.sounding for note in notes), key=lambda pitch: abs(float(pitch.midi - main.midi)), default=None)


def _leans(pitch: Pitch, main: Pitch, following: Pitch | None, bass: Pitch | None) -> bool:
    if bass is None or following is None or following.diatonic != main.diatonic - 1:
        return False
    small, large = (round(each.midi - bass.midi) % 12 in _CONSONANT for each in (pitch, main))
    return small and not large


def _class(pitch: Pitch) -> int:
    return round(pitch.midi) % 12
