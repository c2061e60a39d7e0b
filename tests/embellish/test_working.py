"""Figures put on plain notes: what they become, and which rules hold them."""

from itertools import pairwise

import pytest

from appui.embellish.cells import CELLS, Cell
from appui.embellish.in_time import choices, time_drafts
from appui.embellish.rules import is_hard
from appui.embellish.working import options, positions, stands
from appui.exact import Fraction
from appui.score.pitch import parse_pitch
from tests.embellish.test_rules import IN_TIME, Where, case
from tests.there import there

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


def test_a_leaning_note_from_below_repeats_the_note_before():
    """B leans into C only where B has just been heard (C.P.E. Bach 1753, 2.2 §10, p. 65, read)."""
    one = case(**IN_TIME)
    for before, heard in (("B4", True), ("D5", False)):
        first = [
            draft.notes[:2]
            for at in range(1, 7)
            for _, draft in time_drafts(one, choices(one), parse_pitch(before), at)
        ]
        names = {" ".join(note.pitch.name for note in each if note.pitch) for each in first}
        assert heard == ("B4 C5" in names)


@pytest.mark.parametrize("number", [1, 2])
def test_what_is_printed_is_no_proposal(number):
    """A passing note between two printed ones may be the very note that is printed."""
    one = case("C5e D5e E5q F5h | D5w | C5w", IN_TIME["bass"], "second-time", 0, 1)
    made = [
        [(note.pitch, note.value_q) for note in draft.all] for _, draft in time_drafts(one, choices(one), None, number)
    ]
    assert made
    assert [(event.top.sounding, event.duration_q) for event in one.events] not in made


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


@pytest.mark.parametrize(("solo", "last"), [("C5q A4q B4q G#4q | A4w | A4w", 2), ("E5q C5q B4q D5q | C5w | A4w", 2)])
def test_no_figure_leads_hard_into_another_or_into_what_is_printed(solo, last):
    """No diminished fourth, tritone or seventh at the joints, but where the composer wrote it (common practice)."""
    one = case(solo, "A3+C4+E4h E3+G#3+B3h | A3+C4+E4w | A3+C4+E4w", "second-time", 0, last)
    drafts = [draft for at in range(1, 6) for _, draft in time_drafts(one, choices(one), None, at)]
    assert drafts
    for draft in drafts:
        line = [(note.pitch, note.mark) for note in draft.all if note.pitch] + [
            (there(one.following).top.sounding, "printed")
        ]
        for (before, mark), (after, other) in pairwise(line):
            assert (mark, other) == ("printed", "printed") or not is_hard(before, after)


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
