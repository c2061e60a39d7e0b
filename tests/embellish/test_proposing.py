"""From a wish to its proposals."""

import pytest

from appui.embellish.model import Wish
from appui.embellish.proposing import leading_to, propose_wished
from tests.embellish.pieces import interpretation
from tests.embellish.test_coverage import place

SOLO = " | ".join(["C5h E5h", "D5h F5h", "E5h G5h", "D5w", "C5w"] * 2)
BASS = " | ".join(["C3+E4+G4w", "G2+B3+F4w", "C3+E4+G4w", "G2+B3+F4w", "C3+E4+G4w"] * 2)


@pytest.mark.parametrize("manner", ["methodical"])
def test_a_place_asked_for_is_planned_with_the_whole_solo(manner):
    """Number by number the same as where everything is asked for."""
    made = interpretation(SOLO, BASS, qpm=50, words="Adagio")
    wish = Wish(how_much="rich", count=2, manner=manner)
    everywhere, _ = propose_wished(made, wish)
    assert len(everywhere) > 4
    for found in everywhere:
        (alone,), _ = propose_wished(made, Wish((found.place.place,), how_much="rich", count=2, manner=manner))
        assert found == alone


def test_places_come_in_the_order_in_which_they_are_asked_for():
    """Not in the order of the page."""
    made = interpretation(SOLO, BASS, qpm=50, words="Adagio")
    names = ("oboe.4.1", "oboe.2.1")
    assert list(names) == [each.place.place for each in propose_wished(made, Wish(names))[0]]


def test_only_what_runs_into_a_place_is_planned_with_it():
    """A gap between two places ends what the later one depends on."""
    row = [place(0), place(2), place(3), place(4)]
    assert row[1:3] == leading_to(row, [row[2]])
