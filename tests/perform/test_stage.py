"""A stage: who sits where, and that it is heard there, as loud as in the middle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.perform.model import Performance, PerformedNote, PerformedPart, TempoStep
from appui.perform.stage import EDGE, MIDDLE, on_stage
from appui.score.pitch import Pitch


def band(*solos: bool, program: int = 71) -> Performance:
    """A part for each, a note of a second at a time of its own."""
    parts = [PerformedPart(str(at), str(at), program, (_note(float(at)),), solo=solo) for at, solo in enumerate(solos)]
    length = Fraction(len(parts))
    return Performance("", tuple(parts), (TempoStep(Fraction(0), 0.0, Fraction(60)),), (), length, float(length))


def _note(at_s: float) -> PerformedNote:
    return PerformedNote(Fraction(at_s), Fraction(1), at_s, 0.9, Pitch("C", 0, 5), 72, 90)


@given(st.lists(st.booleans(), max_size=30))
def test_solos_sit_in_the_middle_and_the_others_in_order(solos) -> None:
    """From left to right as in the score, as far to the left as to the right, nobody at the edge."""
    parts = on_stage(band(*solos)).parts
    assert all(part.pan == MIDDLE for part in parts if part.solo)
    pans = [part.pan for part in parts if not part.solo]
    assert pans == sorted(pans)
    assert all(MIDDLE - EDGE <= pan <= MIDDLE + EDGE for pan in pans)
    if len(pans) > 1:
        assert (MIDDLE - EDGE, MIDDLE + EDGE) == (pans[0], pans[-1])


def test_the_drums_stay_in_the_middle() -> None:
    """They are no voice of the score's order."""
    made = band(True, False, False)
    drums = replace(made.parts[1], percussion=True)
    assert [64, 64, 85] == [
        part.pan for part in on_stage(replace(made, parts=(made.parts[0], drums, made.parts[2]))).parts
    ]


def test_only_places_change() -> None:
    """Notes, levels and times are the same."""
    made = band(True, False, False)
    assert made == replace(on_stage(made), parts=tuple(replace(part, pan=64) for part in on_stage(made).parts))


def test_it_is_heard() -> None:
    """Left, middle, right: 9 dB and more between the ears, both ears together as loud as before, within 0.2 dB."""
    from appui.sound.synth import render_blocks

    rate, levels = 16_000, []
    for made in (band(False, True, False), on_stage(band(False, True, False))):
        sound = np.concatenate(list(render_blocks(made, sample_rate=rate, reverb=False))).astype(np.float64)
        pieces = [sound[round((at + 0.1) * rate) : round((at + 0.8) * rate)] for at in range(3)]
        levels.append([np.mean(np.square(piece), axis=0) for piece in pieces])
    plain, staged = levels
    apart = [10 * math.log10(right / left) for left, right in staged]
    assert apart[0] < -9
    assert apart[2] > 9
    assert 0 == pytest.approx(apart[1], abs=0.2)
    for before, after in zip(plain, staged, strict=True):
        assert 0 == pytest.approx(10 * math.log10(sum(after) / sum(before)), abs=0.2)
