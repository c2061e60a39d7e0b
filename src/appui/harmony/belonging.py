"""From the chances of chords to the chance that a note belongs to what sounds.

The sum over the chords that contain the note is too sure of itself and blind to one thing: what another voice sounds
at that very moment nearly always belongs, even where the best chord leaves it out. So the logit of the sum is
stretched, raised for what sounds, and held where nobody is surer; the three values are in `parameters`, fitted last,
when the chords are settled. What is left of certainty for other reasons (`Membership.certainty`) draws the chance to
even.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from appui.harmony.parameters import Parameters

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Membership", "belonging"]

_EVEN = 0.5


class Membership(NamedTuple):
    """What is known of the twelve pitch classes at a moment.

    `contained` (12,) the chance of all chords that contain the class; `sounding` (12,) whether another voice sounds
    it at that moment; `certainty` what is left of certainty, 0 to 1.
    """

    contained: Floats
    sounding: NDArray[np.bool_]
    certainty: float


def belonging(known: Membership, p: Parameters) -> Floats:
    """(12,) the chance of each pitch class to belong to the chord."""
    inside = np.clip(known.contained, 1e-12, 1 - 1e-12)
    logit = np.clip(np.log(inside / (1 - inside)), -p.surest, p.surest)
    chance = 1 / (1 + np.exp(-(p.spread * logit + p.sounding * known.sounding)))
    return np.asarray(_EVEN + known.certainty * (chance - _EVEN))
