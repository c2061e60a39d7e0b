import math

import pytest

from appui.listen.beat import Habit, Point, beats_at, habit_of


def pulse(count: int = 30, pace: float = 1.1) -> list[Point]:
    """A player as even as a clock, somewhat slower than the score."""
    return [Point(0.5 * number, 2 + 0.5 * number * pace) for number in range(count)]


def test_an_even_pulse_goes_on_between_its_notes() -> None:
    """The beat of a note that was not played stands where it would have been."""
    points = [point for point in pulse() if point.nominal_s != 5.0]
    (beat,) = beats_at([5.0], [0], points, habit_of(points))
    assert 7.5 == pytest.approx(beat.at_s, abs=0.005)
    assert 1.1 == pytest.approx(beat.pace, abs=0.001)


def test_the_beat_is_less_known_far_from_any_note() -> None:
    """A gap of some seconds makes it doubtful, and that is said."""
    points = [point for point in pulse() if not 3 < point.nominal_s < 9]
    near, far = beats_at([2.25, 6.0], [0, 0], points, Habit())
    assert near.spread_s * 2 < far.spread_s


def test_one_note_out_of_time_does_not_bend_the_beat() -> None:
    """A slip of a tenth of a second counts less than the notes around it."""
    points = [point._replace(played_s=point.played_s + 0.1 * (point.nominal_s == 5.5)) for point in pulse()]
    (beat,) = beats_at([5.0], [0], points, habit_of(pulse()))
    assert 7.5 == pytest.approx(beat.at_s, abs=0.02)


def test_a_slowing_is_followed() -> None:
    """The curve bends with the player."""
    points = [Point(0.5 * n, 0.5 * n + 0.02 * max(n - 12, 0) ** 2 / 2) for n in range(26)]
    left_out = points.pop(20)
    (beat,) = beats_at([left_out.nominal_s], [0], points, habit_of(points))
    assert left_out.played_s == pytest.approx(beat.at_s, abs=0.03)


def test_without_notes_near_no_beat_is_told() -> None:
    """Beyond a fermata there are too few notes to know anything."""
    (beat,) = beats_at([1.0], [1], pulse(), Habit())
    assert math.isinf(beat.spread_s)
