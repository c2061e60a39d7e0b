"""The beat as the others tell it: made sounds of a few notes of theirs, and the demo with and without them."""

from __future__ import annotations

import numpy as np
import pytest

from appui.exact import Fraction
from appui.listen.beat import Point
from appui.listen.frames import RATE
from appui.listen.full import Slice
from appui.listen.heard import HeardLine
from appui.listen.judge import judge
from appui.listen.line import Line, Step
from appui.listen.others import Recording, points_of_others
from tests.listen.test_onsets import tone

#  one solo note and one chord of the others a second, the others late by so much (s)
COUNT, LATE_S = 8, (0.03, 0.01, 0.03, 0.05, 0.03, 0.01, 0.05, 0.03)
SOLO, OTHERS = (76, 77), (57, 60)


@pytest.fixture(scope="module")
def line() -> Line:
    """Plain notes, a second each, in two pitches by turns."""
    return Line(tuple(Step(Fraction(n), Fraction(1), float(n), SOLO[n % 2], "1") for n in range(COUNT)), ())


@pytest.fixture(scope="module")
def heard() -> HeardLine:
    """Every one of them heard a tenth of a second after its time."""
    starts_s = tuple(n + 0.1 for n in range(COUNT))
    return HeardLine(
        starts_s, tuple(at + 1 for at in starts_s), (True,) * COUNT, (1.0,) * COUNT, {}, {}, 440.0, COUNT + 1.0
    )


@pytest.fixture(scope="module")
def recording() -> Recording:
    """Solo and others."""
    length_s = COUNT + 1.0
    sound = np.zeros(round(length_s * RATE), np.float32)
    for n in range(COUNT):
        sound += tone(SOLO[n % 2], n + 0.1, n + 1.1, length_s)
        sound += 0.3 * tone(
            OTHERS[n % 2], n + 0.1 + LATE_S[n], n + 1.1 + LATE_S[n + 1 if n + 1 < COUNT else n], length_s
        )
    return Recording(sound, 440.0)


def slices(*, same: bool = False) -> list[Slice]:
    """What sounds in each second; `same` has the others on one key."""
    return [
        Slice(float(n), n + 1.0, frozenset({SOLO[n % 2]}), frozenset({OTHERS[0 if same else n % 2]}))
        for n in range(COUNT)
    ]


def test_the_others_tell_each_beat_less_what_they_are_late_by(line, heard, recording) -> None:
    """Late by 30 ms in the middle: what is left is each chord's own, to 12 ms."""
    found = {point.nominal_s: point.played_s for point in points_of_others(line, heard, slices(), recording)}
    assert {float(n): n + 0.1 + LATE_S[n] - 0.03 for n in range(1, COUNT)} == pytest.approx(found, abs=0.012)


def test_a_key_that_sounds_already_tells_nothing(line, heard, recording) -> None:
    """Where the others stay on one key none of them begins."""
    assert [] == points_of_others(line, heard, slices(same=True), recording)


def test_the_beat_is_known_better_with_the_others(report) -> None:
    """Where they tell the same beat as the solo, it is known more closely at half of the places at least."""
    alone = judge(report.line, report.heard)
    more = [Point(report.line.steps[each.place.step].nominal_s, each.beat.at_s, doubt=2.0) for each in alone]
    both = judge(report.line, report.heard, others=more)
    ratios = [two.beat.spread_s / one.beat.spread_s for one, two in zip(alone, both, strict=True)]
    assert 0.95 > float(np.median(ratios))
