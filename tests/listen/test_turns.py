"""A trill note by note: made rows, in which it is known which note sounds."""

import numpy as np
import pytest

from appui.listen.turns import TRILL_FRAMES, in_turn, trill_states, usual_frames


def made(lengths: list[int], rng: np.random.Generator, noise: float = 0.0) -> np.ndarray:
    """Rows (main, upper) of notes in turn, the upper one first; what sounds fits by 4 better."""
    upper = np.concatenate([np.full(length, number % 2 == 0) for number, length in enumerate(lengths)])
    rows = np.stack([np.where(upper, -4.0, 0.0), np.where(upper, 0.0, -4.0)])
    return (rows + noise * rng.normal(size=rows.shape)).astype(np.float32)


def changes(states: np.ndarray) -> list[int]:
    """The frames where another note begins."""
    return list(np.flatnonzero(np.diff(states)) + 1)


@pytest.mark.parametrize("length", [10, 14, 25])
def test_the_speed_of_even_turns_is_theirs(length) -> None:
    """To a tenth, from the quickest that is played to slow ones."""
    rows = made([length] * 12, np.random.default_rng(1), 1.0)
    assert usual_frames(rows[1] - rows[0]) == pytest.approx(length, rel=0.1)


def test_no_turns_have_no_speed() -> None:
    """One note all the time, with noise, takes no turns."""
    rows = made([300], np.random.default_rng(2), 1.0)
    assert usual_frames(rows[1] - rows[0]) is None


def test_what_is_quicker_than_anybody_trills_is_half_as_quick() -> None:
    """Notes of 46 ms are no trill's: what comes and goes so quickly is taken two by two."""
    rows = made([8] * 24, np.random.default_rng(1), 1.0)
    assert usual_frames(rows[1] - rows[0]) == pytest.approx(16, rel=0.1)


def test_each_note_of_a_trill_begins_where_it_was_put() -> None:
    """Without noise to the frame."""
    rows = made([14] * 10, np.random.default_rng(3))
    assert changes(trill_states(rows, 1, 0)) == [14 * number for number in range(1, 10)]


def test_what_is_too_short_for_the_speed_is_no_note() -> None:
    """Seven frames of the other note within a long one are a slip where notes last 24."""
    rows = made([24, 24, 24, 8, 7, 9, 24, 24, 24, 24], np.random.default_rng(4))
    assert len(changes(in_turn(rows, 24.0))) == 7
    assert len(changes(in_turn(rows, None))) == 9


def test_a_note_held_at_the_beginning_is_one_note() -> None:
    """A trill may be led in by a leaning note, many times as long as the others."""
    rows = made([90, *[14] * 9], np.random.default_rng(5))
    assert changes(trill_states(rows, 1, 0))[0] == 90


def test_turns_without_one_speed_are_heard_all_the_same() -> None:
    """What is held twice seems a slow trill, in which the quick notes would be lost."""
    lengths = [10, 7, 8, 8, 60, 8, 40]
    rows = made(lengths, np.random.default_rng(7))
    assert changes(trill_states(rows, 1, 0)) == list(np.cumsum(lengths)[:-1])


def test_nothing_is_shorter_than_a_trill_has_it() -> None:
    """Whatever noise says."""
    rows = made([40] * 4, np.random.default_rng(6), 6.0)
    ends = [0, *changes(in_turn(rows, None)), 160]
    assert min(np.diff(ends)) >= TRILL_FRAMES
