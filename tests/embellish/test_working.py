"""Figures put on plain notes: what they become, and which rules hold them."""

import pytest

from appui.embellish.cells import CELLS, Cell
from appui.embellish.in_time import choices, time_drafts
from appui.embellish.working import options, positions, stands
from appui.exact import Fraction
from appui.score.pitch import parse_pitch
from tests.embellish.test_rules import IN_TIME, Where, case

TWO: Where = {
    "solo": "C5q E5q G5h | E5w",
    "bass": "C3+E4+G4w | C3+E4+G4w",
    "kind": "second-time",
    "first": 0,
    "last": 2,
}


def worked(one, index: int, name: str) -> set[str]:
    """The pitches of every option of a name on an event."""
    found = positions(one)
    here = next(number for number, each in enumerate(found) if each.event == index)
    return {
        " ".join(note.pitch.name if note.pitch else "r" for note in option.notes)
        for option in options(one, found, here)
        if option.cell is not None and option.cell.name == name and stands(one, found[here], option)
    }


def test_the_semitone_below_leads_back_to_its_note():
    """A chromatic neighbour, a letter lower (C.P.E. Bach 1753, 2.4, read, of turns; else common practice)."""
    assert "E5 D#5 E5" in worked(case(**TWO), 1, "neighbour below")


def test_a_semitone_that_the_scale_has_is_no_chromatic_note():
    """Below C stands B."""
    assert {"C5 B4 C5", "C5 B4"} >= worked(case(**TWO), 0, "neighbour below")


def test_a_leaning_note_is_a_dissonance():
    """F leans into E over C; D leans into C (C.P.E. Bach 1753, 2.2 §9, read)."""
    assert {"F5 E5"} == worked(case(**TWO), 1, "leaning note from above")


def test_a_note_is_anticipated_only_by_step():
    """A leap is not anticipated (common practice, no source)."""
    stepwise: Where = {**TWO, "solo": "D5q C5q G5h | E5w", "bass": "G3+B3+D4q C3+E4+G4q C3+E4+G4h | C3+E4+G4w"}
    assert "D5 C5" in worked(case(**stepwise), 0, "next note anticipated")
    assert set() == worked(case(**TWO), 1, "next note anticipated")


def test_a_rest_stands_only_where_there_is_a_beat_for_it():
    """Inside less it is a hiccup (common practice, no source)."""
    short: Where = {**TWO, "solo": "C5e E5e G5q E5h | E5w"}
    assert {"r E5"} == worked(case(**TWO), 1, "note after a rest")
    assert set() == worked(case(**short), 1, "note after a rest")


def test_a_beat_of_several_notes_may_be_one():
    """Fewer notes are a variation too (measured in one bar of six)."""
    short: Where = {**TWO, "solo": "C5e E5e G5q E5h | E5w"}
    assert "C5" in worked(case(**short), 0, "one note for the beat")


@pytest.mark.parametrize("cell", CELLS, ids=lambda cell: f"{' '.join(cell.notes)}:{cell.shares}")
def test_a_row_of_the_table_is_whole(cell: Cell):
    """As many shares as notes, a source, and its time filled."""
    assert len(cell.notes) == len(cell.shares)
    assert cell.source
    assert Fraction(1) == sum(cell.values_q(Fraction(1)))


def test_the_first_note_is_no_hard_step_or_leap_from_what_comes_before():
    """No augmented second, tritone or seventh (C.P.E. Bach 1753, 2.3 §19, read, of trills; else common practice)."""
    seen: Where = {**TWO, "first": 1}
    one, hard = case(**seen), {"F#4": {"C5"}, "B4": {"F5"}, "C#5": {"G5"}}
    for before, never in hard.items():
        made = [draft.notes[0] for at in range(1, 7) for _, draft in _drafts(one, before, at)]
        assert {note.pitch.name for note in made if note.pitch and note.mark != "printed"}.isdisjoint(never)
        assert any(note.pitch and note.mark != "printed" for note in made)


def _drafts(one, before, number):
    return time_drafts(one, choices(one), parse_pitch(before), number)


def test_variations_differ_and_are_the_same_every_time():
    """The first two of one bar, twice made."""
    one = case(**TWO)
    made = [[time_drafts(one, choices(one), None, number)[0][1] for number in (1, 2)] for _ in range(2)]
    assert made[0] == made[1]
    assert made[0][0].notes != made[0][1].notes


def test_what_is_told_names_the_figures():
    """In the trade's words, how often in a row."""
    one = case(**IN_TIME)
    words = time_drafts(one, choices(one), None, 1)[0][1].words
    assert {word.split(",")[0] for word in words} <= {cell.name for cell in CELLS}
