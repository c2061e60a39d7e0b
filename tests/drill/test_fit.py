"""The fit: known thresholds come back, guessers get none."""

import math
import random
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.drill.fit import Answered, chance_right, detection, fit
from appui.drill.kinds import KINDS
from tests.there import there

LADDER = KINDS["heavier"].ladder


@pytest.mark.parametrize(("guess", "middle"), [(1 / 2, 3 / 4), (1 / 3, 2 / 3)])
def test_the_threshold_is_halfway_between_guessing_and_always(guess, middle):
    """Whatever the number of answers."""
    assert middle == pytest.approx(chance_right(5, 5, 0.3, guess, 0.0))


def test_many_answers_give_the_threshold_again():
    """Constant stimuli, 200 answers a level, rounded from the function itself: within a hundredth of an octave."""
    answers = []
    for level in LADDER.levels:
        right = round(200 * chance_right(level, 1.7, 0.5, 0.5))
        answers += [Answered(level, True)] * right + [Answered(level, False)] * (200 - right)
    found = there(fit(answers, 0.5))
    assert 1.7 == pytest.approx(found.level, rel=0.01)
    assert 0.5 == pytest.approx(found.slope, rel=0.05)
    assert found.low < 1.7 < found.high


@pytest.mark.parametrize("kind", [KINDS["heavier"], KINDS["which-reading"]])
def test_sittings_give_the_threshold_again(listen, kind):
    """60 seeded sittings of at most 50 trials: unbiased to 0.15 octaves, and the interval holds nine in ten."""
    chance = random.Random(4)  # noqa: S311 - a listener's
    off, inside = [], 0
    for _ in range(60):
        threshold = kind.ladder.level(chance.uniform(4, 7))
        found = fit(listen(kind, threshold, chance.randrange(10**9))[1], kind.guess)
        if found is not None:
            off.append(math.log2(found.level / threshold))
            inside += found.low <= threshold <= found.high
    assert len(off) >= 54
    assert 0 == pytest.approx(fmean(off), abs=0.15)
    assert inside >= 0.85 * len(off)


@pytest.mark.parametrize("kind", [KINDS["heavier"], KINDS["which-reading"]])
def test_a_guessing_listener_gets_no_threshold(listen, kind):
    """Forty seeded guessers: none gets one."""
    assert [None] * 40 == [fit(listen(kind, None, seed)[1], kind.guess) for seed in range(40)]


def test_all_right_gives_no_threshold():
    """Nothing tells where it would be missed."""
    assert fit([Answered(level, True) for level in LADDER.levels], 0.5) is None


def test_few_answers_give_no_threshold():
    """Seven do not."""
    assert fit([Answered(1.0, True)] * 6 + [Answered(0.5, False)], 0.5) is None


def test_d_prime_is_that_of_the_source():
    """0.7071 and 0.7937 right in two intervals without bias are d' 0.77 and 1.16 (Levitt 1971, computed)."""
    for share, d_prime in ((0.7071, 0.77), (0.7937, 1.16)):
        count = 20_000
        hits = round(share * count)
        pairs = [(0, 0)] * hits + [(0, 1)] * (count - hits) + [(1, 1)] * hits + [(1, 0)] * (count - hits)
        found = there(detection(pairs, intervals=2))
        assert d_prime == pytest.approx(found.d_prime, abs=0.005)
        assert 0 == pytest.approx(found.bias, abs=0.001)


def test_bias_below_nought_leans_to_the_first():
    """Who always says first has no sensitivity and a strong bias."""
    found = there(detection([(0, 0)] * 20 + [(1, 0)] * 20, intervals=2))
    assert 0 == pytest.approx(found.d_prime, abs=1e-9)
    assert found.bias < -1


def test_one_interval_has_no_root():
    """The same answers tell more of one interval than of two."""
    pairs = [(0, 0)] * 8 + [(0, 1)] * 2 + [(1, 1)] * 8 + [(1, 0)] * 2
    one, two = (there(detection(pairs, intervals=intervals)) for intervals in (1, 2))
    assert math.sqrt(2) == pytest.approx(one.d_prime / two.d_prime)


@given(st.lists(st.tuples(st.sampled_from(LADDER.levels), st.booleans()), max_size=60))
def test_an_interval_holds_its_threshold(answers):
    """Whatever was answered, nothing breaks, and low is at most the threshold, high at least."""
    found = fit([Answered(*each) for each in answers], 0.5)
    if found is not None:
        assert found.low <= found.level <= found.high
