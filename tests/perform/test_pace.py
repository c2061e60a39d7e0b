"""The curve of tempo laid over the bars as they are played."""

from appui.exact import Fraction
from appui.perform.pace import Beat, Pace, left_after
from appui.score.repeats import once
from tests.written import bar, note, part, score

Q = Fraction
BEAT = Beat(Q(4), Q(5), 0.1)


def test_a_held_beat_has_no_time_of_its_own() -> None:
    """Where a fermata is held the hold has the word; beside it the beat is longer."""
    free = Pace({}, {})
    assert free.times(BEAT, None) > 1
    assert 1 == free.holding([(Q(4), Q(8))]).times(BEAT, None)
    assert free.times(BEAT, None) == free.holding([(Q(5), Q(8))]).times(BEAT, None)


def test_the_end_is_broader_than_the_middle() -> None:
    """The same beat, right before the end."""
    pace = Pace({}, {})
    assert pace.times(BEAT, Q(0)) > pace.times(BEAT, None)


def test_what_is_left_after_the_last_bars() -> None:
    """In quarters, counted from the end."""
    music = score(part(*[bar(note("C5", 16))] * 3))
    assert {2: 0, 1: 4, 0: 8} == left_after(music, once(music.bars))


def test_only_the_last_time_of_a_bar_is_near_the_end() -> None:
    """A bar that comes again is not the end the first time."""
    music = score(part(*[bar(note("C5", 16))] * 2))
    first, last = once(music.bars)
    assert {1: 0} == {bar: left for bar, left in left_after(music, [last, first, last]).items() if bar == 1}
