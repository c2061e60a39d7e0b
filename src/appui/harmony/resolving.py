"""Whether a full-size note on a beat that steps down leans: the facts weighed for it, in one sum.

A note that sounds speaks for every chord it belongs to, so the chord alone finds few of them. What the chord says here
and at the next note, the intervals over the bass and how the voice came and goes on are added up instead. The weights
are a logistic regression on notes of scores with an expert's chord: how they were found and what they are worth on
works left out, `tests.benchmarks.harmony_labels` says.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from appui.harmony.analyse import Harmony
from appui.score.model import Event
from appui.score.pitch import Pitch

__all__ = ["RESOLVING", "RESOLVING_CONSTANT", "Resolving", "resolving_chance", "resolving_facts"]

_SUREST, _MANY = 6.0, 4
_MOMENT_Q = 0.01
#  semitones above the bass, without octaves
_CONSONANT = frozenset({0, 3, 4, 7, 8, 9})
_FOURTH = 5


class Resolving(NamedTuple):
    """The facts of a note that steps down, or their weights.

    `foreign` and `foreign_after` are the log-odds (-6..6) that it is outside the chord of the part of a beat, here and
    at the note it steps into; `others` how many other notes sound, 4 at most; over the bass, where one sounds:
    `dissonant` is the note, `fourth` is it a fourth, `into_consonance` what it steps into; `prepared`: it sounded just
    before; `goes_down`, `goes_up`: the voice steps on after that; `doubled`: what it steps into sounds already.
    """

    foreign: float
    foreign_after: float
    others: float
    dissonant: float
    fourth: float
    into_consonance: float
    prepared: float
    goes_down: float
    goes_up: float
    doubled: float


RESOLVING_CONSTANT = -0.37
RESOLVING = Resolving(
    foreign=0.15,
    foreign_after=0.18,
    others=-0.75,
    dissonant=-0.47,
    fourth=1.75,
    into_consonance=1.81,
    prepared=0.99,
    goes_down=-1.00,
    goes_up=-0.92,
    doubled=1.40,
)


def resolving_chance(facts: Resolving, constant: float = RESOLVING_CONSTANT, weights: Resolving = RESOLVING) -> float:
    """The chance that the note leans."""
    total = constant + sum(fact * weight for fact, weight in zip(facts, weights, strict=True))
    return float(1 / (1 + np.exp(-total)))


def resolving_facts(harmony: Harmony, own: tuple[int, int], index: int, note: int, target: Pitch) -> Resolving:
    """The facts of a note (`note` of the event `index` of a part's voice, `own`) that steps down to `target`."""
    events = harmony.score.parts[own[0]].voices[own[1]].events
    here, after = events[index], events[index + 1]
    pitch = here.notes[note].sounding
    around = _around(harmony, own, here, note)
    bass = harmony.fits.bass(here.onset_q, own)
    low = None if bass is None or harmony.texture.where[bass][:2] == own else harmony.fits.sounding.note(bass)[2]
    above, below = ((round(p.midi - low.sounding.midi) % 12 if low else None) for p in (pitch, target))
    on = events[index + 2].notes if index + 2 < len(events) else ()
    way = events[index + 2].top.sounding.diatonic - target.diatonic if on else 0
    return Resolving(
        foreign=_foreign(harmony, here, pitch),
        foreign_after=_foreign(harmony, after, pitch),
        others=float(min(len(around), _MANY)),
        dissonant=float(above is not None and above not in _CONSONANT),
        fourth=float(above == _FOURTH),
        into_consonance=float(below in _CONSONANT),
        prepared=float(index > 0 and any(other.sounding == pitch for other in events[index - 1].notes)),
        goes_down=float(way == -1),
        goes_up=float(way == 1),
        doubled=float(round(target.midi) % 12 in around),
    )


def _foreign(harmony: Harmony, event: Event, pitch: Pitch) -> float:
    fits = harmony.fits
    inside = fits.belonging[fits.parts_of_beats.slices.at(float(event.onset_q)), round(pitch.midi) % 12]
    inside = float(np.clip(inside, 1e-6, 1 - 1e-6))
    return float(np.clip(np.log((1 - inside) / inside), -_SUREST, _SUREST))


def _around(harmony: Harmony, own: tuple[int, int], here: Event, note: int) -> set[int]:
    """The pitch classes that sound with a note, those of its own chord with them."""
    start, sounding = float(here.onset_q), harmony.fits.sounding
    others = {int(sounding.texture.midi[i]) % 12 for i in sounding.others(start, start + _MOMENT_Q, own)}
    return others | {round(other.sounding.midi) % 12 for i, other in enumerate(here.notes) if i != note}
