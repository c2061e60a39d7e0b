"""Movements of one file: where bar numbers begin again."""

import pytest
from written import bar, note, part, score

from appui.score.movements import movement_of, movements


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
    assert expected == list(found)
    assert found[-1] == movement_of(found, len(music.bars) - 1)
