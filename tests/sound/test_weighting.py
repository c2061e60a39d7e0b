"""The weighting of BS.1770 against its printed coefficients and against scipy's recursion."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from appui.sound.weighting import BLOCK, Weighting, coefficients


def test_the_printed_coefficients() -> None:
    """At 48 kHz those of ITU-R BS.1770, annex 1, tables 1 and 2 (memory), to the last digit but two."""
    (shelf, below), (high_pass, below_pass) = coefficients(48_000)
    assert [1.53512485958697, -2.69169618940638, 1.19839281085285] == pytest.approx(shelf, abs=1e-12)
    assert [1, -1.69065929318241, 0.73248077421585] == pytest.approx(below, abs=1e-12)
    assert [1, -2, 1] == high_pass
    assert [1, -1.99004745483398, 0.99007225036621] == pytest.approx(below_pass, abs=1e-12)


@given(st.lists(st.integers(1, 700), min_size=1, max_size=5), st.sampled_from([44_100, 48_000]))
def test_blocks_are_weighed_as_by_the_recursion(sizes: list[int], rate: int) -> None:
    """However the samples come, to single precision what scipy's filter gives, sample by sample."""
    rows = np.random.default_rng(5).standard_normal((2, BLOCK * sum(sizes))).astype(np.float32)
    weighting = Weighting(rate, 2)
    places = BLOCK * np.cumsum([0, *sizes])
    pairs = itertools.pairwise(places)
    found = np.concatenate([weighting.weigh(np.ascontiguousarray(rows[:, a:b])) for a, b in pairs], axis=1)
    expected = rows.astype(np.float64)
    for above, below in coefficients(rate):
        expected = lfilter(above, below, expected, axis=1)
    assert abs(found - expected).max() < 3e-6
