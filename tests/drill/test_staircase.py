"""The staircase: its rule answer by answer, and where it settles."""

import math
import random
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.drill.kinds import KINDS
from appui.drill.staircase import Staircase, target

KIND = KINDS["heavier"]
LADDER = KIND.ladder
RIGHT, WRONG = True, False


def rungs(answers, **words):
    stairs = Staircase(15, **words)
    out = []
    for right in answers:
        stairs.answer(right=right)
        out.append(stairs.rung)
    return out


@pytest.mark.parametrize(("down", "share"), [(2, 0.7071), (3, 0.7937)])
def test_targets_are_those_of_the_source(down, share):
    """Levitt 1971 (read in excerpt): p^down = 1/2."""
    assert share == round(target(down), 4)


def test_until_the_first_mistake_every_right_answer_leads_down():
    """Two rungs at a time, so that it is soon where it matters."""
    assert [2, 4, 6] == rungs([RIGHT] * 3)


def test_two_down_one_up():
    """After a mistake it takes two right answers to go down, one wrong one to go up."""
    answers = [RIGHT, WRONG, RIGHT, RIGHT, RIGHT, RIGHT, WRONG]
    # two rungs till the second reversal, which is the first way down again; then one
    assert [2, 0, 0, 1, 1, 2, 1] == rungs(answers, down=2)


def test_three_down_one_up():
    """The same with three."""
    assert [2, 4, 2, 2, 2, 3] == rungs([RIGHT, RIGHT, WRONG, RIGHT, RIGHT, RIGHT], down=3)


def test_a_wrong_answer_breaks_the_row():
    """Right answers count only in a row."""
    stairs = Staircase(15, 2, rung=8, missed=True)
    for right in (RIGHT, WRONG, RIGHT):
        stairs.answer(right=right)
    assert 6 == stairs.rung


@given(st.lists(st.booleans(), max_size=200), st.sampled_from([2, 3]), st.integers(0, 20))
def test_it_never_leaves_the_ladder(answers, down, lowest):
    """Whatever is answered."""
    stairs = Staircase(lowest, down)
    for right in answers:
        stairs.answer(right=right)
        assert 0 <= stairs.rung <= lowest


def test_it_is_done_after_eight_reversals_of_one_rung():
    """The reversals of two rungs do not count."""
    stairs = Staircase(15, 2, rung=8, missed=True)
    count = 0
    while not stairs.done:
        for right in (WRONG, RIGHT, RIGHT):
            stairs.answer(right=right)
        count += 1
    assert 8 <= len(stairs.counted) == len(stairs.turns) - 2


def test_before_it_has_settled_there_is_no_mean():
    """Four reversals that count are the least."""
    assert Staircase(15).mean is None


@pytest.mark.parametrize("down", [2, 3])
def test_known_listeners_settle_at_the_target(listen, down):
    """150 listeners, seeded: the mean over them within 0.12 octaves of the point where they are right so often.

    Their spread is some 0.4 octaves; `tests/benchmarks/staircase.py` does it with 2,000.
    """
    chance = random.Random(11)  # noqa: S311 - a listener's
    off = []
    for _ in range(150):
        threshold = LADDER.level(chance.uniform(5, 10))
        stairs, _answers = listen(KIND, threshold, chance.randrange(10**9), down=down, trials=10_000)
        share = (target(down) - 0.5) / 0.48
        point = threshold * 2 ** (0.5 * math.log(share / (1 - share)))
        off.append(math.log2(LADDER.level(stairs.mean) / point))
    assert 0 == pytest.approx(fmean(off), abs=0.12)
