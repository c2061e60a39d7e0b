"""Movements of one file: where bar numbers begin again, or a final barline, tempo words and a new key tell them."""

import pytest

from appui.errors import PlaceError
from appui.score.movements import find_movement, movement_of, movements
from appui.score.repeats import unfold
from tests.written import bar, note, part, score

_END = '<barline location="right"><bar-style>light-heavy</bar-style></barline>'
_BACK = '<barline location="right"><bar-style>light-heavy</bar-style><repeat direction="backward"/></barline>'


_HELD = '<barline location="right"><fermata/></barline>'
_METER = "<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"


def _words(text: str) -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def _key(fifths: int) -> str:
    return f"<attributes><key><fifths>{fifths}</fifths></key></attributes>"


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        ("1 2 3", [(1, 0, 2)]),
        ("1 2 3 1 2", [(1, 0, 2), (2, 3, 4)]),
        ("0 1 2 0 1 2", [(1, 0, 2), (2, 3, 5)]),
        ("1 2 X1 3", [(1, 0, 3)]),
        ("1 1 2", [(1, 0, 2)]),
    ],
)
def test_a_movement_begins_where_numbers_begin_again(numbers, expected) -> None:
    """A pickup begins one too; a bar without a number of its own does not."""
    music = score(part(*(bar(note("C5", 16), number=number) for number in numbers.split())))
    found = movements(music)
    assert expected == [each[:3] for each in found]
    assert found[-1] == movement_of(found, len(music.bars) - 1)


def test_a_pickup_without_a_number_begins_its_movement() -> None:
    """After a final barline a bar that is not counted belongs to what follows."""
    bars = (("1", ""), ("2", _END), ("X1", ""), ("1", ""), ("2", ""))
    music = score(part(*(bar(note("C5", 16), more, number=number) for number, more in bars)))
    assert [(1, 0, 1), (2, 2, 4)] == [each[:3] for each in movements(music)]


@pytest.mark.parametrize(
    ("end", "begin", "expected"),
    [
        (_END, _key(2) + _words("Adagio"), 2),
        (_END, _words("Adagio"), 1),  # a variation
        (_END, _key(2) + _words("Trio"), 1),
        ("", _key(2) + _words("Adagio"), 1),
        ("", _key(2) + _METER + _words("Adagio"), 2),
        (_HELD, _key(2) + _METER + _words("Adagio"), 1),
        (_BACK, _key(2) + _words("Menuetto da capo"), 1),
    ],
)
def test_bars_counted_on_need_barline_words_and_key(end, begin, expected) -> None:
    """Tempo words with a final barline, or with a new key and meter, begin a movement; trio and variation are none."""
    music = score(part(bar(note("C5", 16), end), bar(begin, note("D5", 16), number="2")))
    assert expected == len(movements(music))


def test_bars_counted_in_another_way_are_one_piece() -> None:
    """Numbers that begin again every other bar, thousands of times, count no movements."""
    bars = [bar(note("C5", 16), number=number) for number in "12" * 1_100]
    assert 1 == len(movements(score(part(*bars))))


def test_a_slow_introduction_is_no_movement() -> None:
    """Short, slower, without a final barline; with one it is a movement."""
    quick = bar(_key(2) + _METER + _words("Allegro"), note("D5", 12), number="2")
    slow, ended = (bar(_words("Adagio"), note("C5", 16), more, number="1") for more in ("", _END))
    assert [1, 2] == [len(movements(score(part(first, quick)))) for first in (slow, ended)]


def test_sections_that_come_back_are_no_movements() -> None:
    """A slow movement may change between two tempos, each with its key and meter."""
    slow, quick = _words("Adagio") + _METER + _key(1), _words("Andante") + _four_four() + _key(2)
    bars = [bar(more, note("C5", 16), number=str(n)) for n, more in enumerate((slow, quick, slow, quick), 1)]
    assert 1 == len(movements(score(part(*bars))))


def _four_four() -> str:
    return _METER.replace("3", "4")


def _concerto():
    return score(
        part(
            bar(_words("Allegro moderato"), note("C5", 16), number="1"),
            bar(note("C5", 16), _BACK, number="2"),
            bar(_words("II. Romance"), note("D5", 16), number="1"),
            bar(note("D5", 16), _BACK, number="2"),
            bar(_words("Rondo"), _words("Allegro"), note("E5", 16), number="1"),
        )
    )


def test_movements_are_called_by_what_stands_over_them() -> None:
    """Tempo words, else a title."""
    assert ["1 Allegro moderato", "2 II. Romance", "3 Allegro"] == [each.name for each in movements(_concerto())]


@pytest.mark.parametrize(("wanted", "number"), [("2", 2), ("romance", 2), ("Allegro", 3), ("moderato", 1)])
def test_a_movement_is_named_by_number_or_words(wanted, number) -> None:
    """Words that are the whole heading go before those that are part of one."""
    assert number == find_movement(_concerto(), wanted).number


@pytest.mark.parametrize("wanted", ["4", "0", "adagio", "", "ll"])
def test_a_movement_that_is_not_there_lists_those_that_are(wanted) -> None:
    """Also words that fit several."""
    with pytest.raises(PlaceError, match=r"its movements are 1 Allegro moderato, 2 II\. Romance, 3 Allegro"):
        find_movement(_concerto(), wanted)


def test_a_repeat_does_not_lead_back_into_another_movement() -> None:
    """Without a sign where it begins it goes back to the first bar of its own."""
    assert [0, 1, 0, 1, 2, 3, 2, 3, 4] == [each.bar for each in unfold(_concerto().bars)]
