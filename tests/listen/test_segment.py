from functools import partial
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.listen.segment import BLOCK, Node, best_cut, sums_of


def node(gains, after=(-1,), least=1):
    return Node(sums_of(np.array(gains, float)), after, least)


def test_a_row_of_two_notes_is_cut_where_it_changes() -> None:
    """Each note takes the frames that fit it."""
    first, second = node([1, 1, 1, 0, 0]), node([0, 0, 0, 1, 1], (0,))
    cut = best_cut([first, second], sums_of(np.zeros(5)), [1], free=False)
    assert ((0, 3), (3, 5), 5.0) == (cut.starts, cut.ends, cut.score)


def test_a_note_that_is_not_there_is_passed_by() -> None:
    """A small note that may be missing costs nothing where it is."""
    nodes = [node([1, 1, 0, 0]), node([-5, -5, -5, -5], (0,)), node([0, 0, 1, 1], (0, 1))]
    cut = best_cut(nodes, sums_of(np.zeros(4)), [2], free=False)
    assert (0, -1, 2) == cut.starts


def test_no_note_is_shorter_than_its_least() -> None:
    """A note of one good frame takes the two it needs."""
    nodes = [node([1, 1, 1, 1]), node([0, 0, 5, -1], (0,), least=2)]
    cut = best_cut(nodes, sums_of(np.zeros(4)), [1], free=False)
    assert 2 == cut.ends[1] - cut.starts[1]


def test_what_comes_before_and_after_is_left_outside() -> None:
    """Free at both ends, the notes begin and end where they fit."""
    cut = best_cut([node([-1, 2, 2, -1])], sums_of(np.zeros(4)), [0])
    assert ((1,), (3,)) == (cut.starts, cut.ends)


@given(st.lists(st.tuples(*[st.lists(st.integers(-4, 4), min_size=6, max_size=6)] * 3), min_size=1, max_size=1))
def test_the_best_cut_is_the_best_of_all(rows) -> None:
    """Nothing that could be cut otherwise is better."""
    gains = [np.array(each, float) for each in rows[0]]
    nodes = [node(gains[0]), node(gains[1], (0,)), node(gains[2], (1,))]
    cut = best_cut(nodes, sums_of(np.zeros(6)), [2], free=False)
    best = max(
        gains[0][:one].sum() + gains[1][one:two].sum() + gains[2][two:].sum()
        for one, two in product(range(1, 6), range(2, 6))
        if one < two
    )
    assert best == pytest.approx(cut.score)


def test_a_row_longer_than_a_block_is_cut_where_it_changes() -> None:
    """Hundreds of notes of two frames each, their sums made when they are needed."""
    count = 2 * BLOCK + 5
    rows = np.repeat(np.eye(count), 2, axis=1)
    nodes = [Node(partial(sums_of, row), (number - 1,), 1) for number, row in enumerate(rows)]
    cut = best_cut(nodes, sums_of(np.zeros(2 * count)), [count - 1])
    assert tuple(range(0, 2 * count, 2)) == cut.starts


def test_a_note_that_costs_by_its_length_is_as_long_as_it_costs_least() -> None:
    """Four frames where the sound says nothing of its end; never longer than its costs tell."""
    nothing = sums_of(np.zeros(20))
    costs = np.array([4.0, 1.0, 0.0, 1.0, 4.0])
    nodes = [Node(nothing, (-1,), 2, costs=costs), Node(nothing, (0,), 0)]
    cut = best_cut(nodes, nothing, [1], free=False)
    assert (0, 4) == (cut.starts[0], cut.ends[0])
    lone = best_cut([Node(sums_of(np.ones(20)), (-1,), 2, costs=np.zeros(5))], sums_of(np.zeros(20)), [0])
    assert 6 == lone.ends[0] - lone.starts[0]
