"""What is said after an answer: what was heard, and why."""

import pytest

from appui.drill.answers import CATCH
from appui.drill.invent import ROWS, TRILLS, Row, invented
from appui.drill.kinds import KINDS
from appui.drill.phrase import Setting
from appui.drill.words import EQUAL, explained

LEANS = next(row for row in ROWS if not row.member)
BELONGS = next(row for row in ROWS if row.member)


def said(kind: str, row: Row, answer: int, level: float = 100.0, fifths: int = 0) -> str:
    """The words on an answer to an invented phrase."""
    pickup = ("G4", "C5", "E5") if not row.minor else ("G4", "C5", "Eb5")
    return explained(KINDS[kind], Setting(invented(row, pickup, 0), fifths), level, answer)


@pytest.mark.parametrize("kind", [name for name in KINDS if name != "trill-start"])
def test_every_answer_has_its_words(kind: str) -> None:
    """A sentence that ends, for each of them and for notes that lean or belong."""
    for answer in range(len(KINDS[kind].answers)):
        for row in (LEANS, BELONGS):
            assert said(kind, row, answer).endswith(".")


def test_two_equal_notes_are_told_as_equal() -> None:
    """No answer was right."""
    assert EQUAL == said("heavier", LEANS, CATCH)


def test_a_dissonance_leans_where_it_is_given_time() -> None:
    """On the beat it leans, before it would have."""
    assert "a dissonance, which leans and steps down to F5." in said("lean-or-pass", LEANS, 1)
    assert "would lean where it is given time" in said("lean-or-pass", LEANS, 0)


def test_what_belongs_has_nothing_to_lean_on() -> None:
    """It is in the chord."""
    assert "it has nothing to lean on." in said("member-or-dissonance", BELONGS, 0)


def test_the_words_are_of_the_key_that_is_heard() -> None:
    """A fifth higher G and F are D and C."""
    assert "F5" in said("lean-or-pass", LEANS, 1)
    assert "C5" in said("lean-or-pass", LEANS, 1, fifths=1)


def test_a_trill_from_above_leans_on_its_main_note() -> None:
    """From the main note nothing does."""
    row = TRILLS[0]
    assert "leaned on D5" in said("trill-start", row, 0)
    assert "leaned" not in said("trill-start", row, 1)
