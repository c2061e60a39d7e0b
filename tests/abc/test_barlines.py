"""Barlines, repeats and endings as they are typed."""

import pytest

from appui.errors import ScoreError
from tests.abc.abc_text import music, names


def edges(text: str) -> list[tuple[bool, int, bool]]:
    """Of each bar: whether a repeat begins, how often it is played where one ends, else 0, whether it is the last."""
    return [(bar.repeat_forward, bar.repeat_backward, bar.final) for bar in music(text).bars]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("c8 | c8 |]", [(False, 0, False), (False, 0, True)]),
        ("|: c8 | c8 :|", [(True, 0, False), (False, 2, False)]),
        # twice over is three times
        ("|: c8 ::| c8 |]", [(True, 3, False), (False, 0, True)]),
        # one repeat ends, the next begins
        ("c8 :: c8 :|", [(False, 2, False), (True, 2, False)]),
        ("c8 :|: c8 :|", [(False, 2, False), (True, 2, False)]),
    ],
)
def test_a_barline_says_what_is_repeated(text: str, expected: list[tuple[bool, int, bool]]) -> None:
    """ABC standard 2.1, section 4.8 (memory)."""
    assert expected == edges(text)


def test_endings_may_be_lists_and_ranges() -> None:
    """The first three times one way, the fourth another."""
    bars = music("|: c8 |1-3 d8 :|4 e8 |]").bars
    assert [(), ((1, 2, 3),), ((4,),)] == [tuple(each.passes for each in bar.endings) for bar in bars]


def test_an_ending_that_has_no_first_one_is_refused() -> None:
    """At its column."""
    with pytest.raises(ScoreError, match="is no ending: there is no first one before it"):
        music("c8 |2 d8 |]")


def test_an_ornament_before_a_barline_is_refused() -> None:
    """It stands over no note."""
    with pytest.raises(ScoreError, match="an ornament stands before a barline"):
        music("c8 T| d8 |]")


def test_a_colon_without_its_line_begins_a_repeat() -> None:
    """It is said, and the notes are read."""
    made = music(": c8 :|")
    assert ["C5"] == names(made)
    assert any("a colon without its line" in notice.text for notice in made.notices)
