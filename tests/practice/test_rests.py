"""Long rests of the solo made short."""

from appui.practice.rests import shortened
from appui.score.model import Score
from appui.score.repeats import once
from tests.written import bar, note, part, score


def resting(*plays: bool) -> Score:
    """A solo that plays in some bars, over a bass that plays in all."""
    solo = [bar(note("C5" if sounds else "rest", 16)) for sounds in plays]
    return score(part(*solo), part(*[bar(note("C3", 16))] * len(plays), name="Bass"))


def test_of_a_long_rest_its_last_bars_are_left() -> None:
    """Five bars' rest, two kept: they are counted, and the bars that follow begin at once after them."""
    music = resting(True, False, False, False, False, False, True)
    order, counted = shortened(music, once(music.bars), [0], 2)
    assert [0, 4, 5, 6] == [each.bar for each in order]
    assert [0, 4, 8, 12] == [each.onset_q for each in order]
    assert {1, 2} == counted


def test_a_rest_no_longer_than_what_is_kept_stays() -> None:
    """Nothing is cut and nothing counted."""
    music = resting(True, False, False, True)
    order, counted = shortened(music, once(music.bars), [0], 2)
    assert [0, 1, 2, 3] == [each.bar for each in order]
    assert not counted


def test_where_no_solo_plays_nothing_is_cut() -> None:
    """The whole stays as it is."""
    music = resting(False, False, False, False)
    order, counted = shortened(music, once(music.bars), [0], 2)
    assert (4, frozenset()) == (len(order), counted)
