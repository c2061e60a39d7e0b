"""Beats and clicks: what a player counts, in quarters from the start of the metrical bar."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import UsageError
from appui.exact import Fraction
from appui.practice.click import ClickPattern, beats_of, parse_click
from appui.score.model import Meter


def offsets(pattern: ClickPattern, meter: Meter, qpm: int = 100, *, rank: int | None = None) -> list[Fraction]:
    """Where a bar clicks."""
    return [click.offset_q for click in pattern.bar(meter, Fraction(qpm)) if rank is None or click.rank == rank]


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ((3, 4), [0, 1, 2]),
        ((2, 2), [0, 2]),
        ((6, 8), [0, Fraction(3, 2)]),
        ((12, 8), [0, Fraction(3, 2), 3, Fraction(9, 2)]),
        ((3, 8), [0, Fraction(1, 2), 1]),
        ((5, 8), [0, Fraction(3, 2)]),
        ((7, 8), [0, 1, 2]),
        ((5, 4), [0, 1, 2, 3, 4]),
    ],
)
def test_beats_of_a_bar(meter, expected) -> None:
    """Simple, compound and mixed meters."""
    assert expected == [beat.offset_q for beat in beats_of(Meter(*meter))]


@given(st.integers(1, 16), st.sampled_from([1, 2, 4, 8, 16]))
def test_beats_fill_the_bar(beats: int, unit: int) -> None:
    """Each begins where the last ends, and the last ends with the bar."""
    meter = Meter(beats, unit)
    at_q = Fraction(0)
    for beat in beats_of(meter):
        assert at_q == beat.offset_q
        at_q += beat.length_q
    assert meter.bar_q == at_q


def test_groups_of_the_player_s_own() -> None:
    """2+3 instead of the usual 3+2, with its eighths."""
    pattern = parse_click("2+3")
    assert [0, 1] == [q for q in offsets(pattern, Meter(5, 8)) if q in (0, 1)]
    assert [Fraction(1, 2), Fraction(3, 2), 2] == offsets(pattern, Meter(5, 8), rank=2)


def test_slow_beats_are_subdivided() -> None:
    """Below 50 a minute: in two, in a compound meter in three."""
    beats = ClickPattern()
    assert [] == offsets(beats, Meter(2, 4), 50, rank=2)
    assert [Fraction(1, 2), Fraction(3, 2)] == offsets(beats, Meter(2, 4), 49, rank=2)
    assert [Fraction(1, 2), 1, 2, Fraction(5, 2)] == offsets(beats, Meter(6, 8), 60, rank=2)


def test_beats_too_quick_to_be_beats_are_left_out() -> None:
    """Beyond 960 a minute a bar has its first click only, however long it is."""
    beats = ClickPattern()
    assert 4 == len(offsets(beats, Meter(4, 32), 120))
    assert [0] == offsets(beats, Meter(4, 32), 121)
    assert [0] == [click.offset_q for click in beats.bar(Meter(1, 256), Fraction(80), Fraction(9_000))]


def test_only_the_first_beat_or_none() -> None:
    """`bar` and `off`."""
    assert [0] == offsets(parse_click("bar"), Meter(4, 4))
    assert [] == offsets(parse_click("off"), Meter(4, 4))


def test_the_first_beat_is_marked() -> None:
    """Rank 0 once a bar."""
    assert [0] == offsets(ClickPattern(), Meter(4, 4), rank=0)


def test_groups_that_do_not_fill_the_bar_are_refused() -> None:
    """With what they make."""
    with pytest.raises(UsageError, match=r"groups 3\+3 make 6, the meter is 5/8; name groups that make 5"):
        beats_of(Meter(5, 8), (3, 3))


def test_an_unknown_pattern_is_refused() -> None:
    """With those there are."""
    with pytest.raises(UsageError, match=r"click 'tock': 'tock' is none of beats, bar, subdivided, off, silent, nor"):
        parse_click("tock")
