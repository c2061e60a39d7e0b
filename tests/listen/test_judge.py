"""From what was heard to what is said, with made-up hearing."""

from dataclasses import replace

import pytest

from appui.listen.heard import HeardNotes
from appui.listen.judge import is_something_else, is_struck, judge, weight_word

CLEAR = HeardNotes((1.0, 1.1), 1.2, 2.0, 50.0, 60.0, 58.0)


@pytest.mark.parametrize(
    ("weight_db", "spread_db", "word"),
    [
        (8.0, 2.0, "heavier"),
        (-8.0, 2.0, "lighter"),
        (0.0, 1.5, "about the same"),
        (3.0, 2.0, "not lighter"),
        (-3.0, 2.0, "not heavier"),
        (0.0, 4.0, ""),
    ],
)
def test_a_weight_is_told_only_where_it_is_sure(weight_db: float, spread_db: float, word: str) -> None:
    """Even reaches to 3 dB; near the border it is one of two, and badly heard nothing is said."""
    assert word == weight_word(weight_db, spread_db)


@pytest.mark.parametrize(
    "notes",
    [
        CLEAR._replace(small_db=40.0),
        CLEAR._replace(small_s=(0.5, 1.1)),
        CLEAR._replace(small_s=(0.0, 0.05, 1.1), main_s=1.15),
        CLEAR._replace(small_s=(1.1,), before_same=True, evidence=-20.0),
    ],
)
def test_what_is_rather_something_else_is_no_small_note(notes: HeardNotes) -> None:
    """Far too soft, rings on, or does not fit: the note before, a voice of the track, the room."""
    assert is_something_else(notes)
    assert not is_something_else(CLEAR)


def test_where_the_last_small_note_and_the_main_note_are_parted_is_not_heard() -> None:
    """On one pitch they are parted anywhere, so that the first seems long beside the last."""
    apart = CLEAR._replace(small_s=(1.0, 1.15), main_s=1.18)
    assert is_something_else(apart)
    assert not is_something_else(apart._replace(main_same=True))


def test_a_clear_small_note_is_told_though_nothing_around_it_fits(report) -> None:
    """As among other notes than printed; one that is hardly heard is not told there."""
    number = next(n for n, each in enumerate(report.places) if each.place.name == "oboe.2.1")
    at, told = report.places[number].place.step, []
    fit = tuple(0.3 if abs(step - at) < 2 else each for step, each in enumerate(report.heard.fit))
    for evidence in (60.0, 10.0):
        notes = report.heard.notes[number]._replace(evidence=evidence)
        odd = replace(report.heard, fit=fit, notes={**report.heard.notes, number: notes})
        told.append(judge(report.line, odd)[number].how)
    assert ["before", "cannot tell"] == told


def test_what_was_pressed_is_no_doubt_there() -> None:
    """A MIDI file is exact."""
    assert not is_something_else(CLEAR._replace(small_db=40.0, exact=True))


@pytest.mark.parametrize(
    ("strokes", "there"),
    [
        ([(1.0, 1.2), (1.2, 2.0)], True),
        ([(1.0, 0.7), (1.2, 2.0)], False),
        ([(0.6, 1.1), (0.8, 0.9), (1.0, 1.2), (1.2, 2.0), (1.5, 1.0)], False),
    ],
)
def test_a_note_of_the_pitch_before_is_there_where_its_stroke_stands_out(strokes, there) -> None:
    """Clear by itself, and clearer than what a restless tone seems to strike; the main note's stroke does not count."""
    notes = CLEAR._replace(small_s=(1.0,), before_same=True, strokes=tuple(strokes))
    assert there == is_struck(notes, 1.0)


def test_what_begins_far_too_early_is_no_small_note_before_the_beat(report) -> None:
    """Nine tenths of a second before its beat something else is heard; a tenth before it, it is told."""
    number = next(n for n, each in enumerate(report.places) if each.place.name == "oboe.2.1")
    notes, beat_s = report.heard.notes[number], report.places[number].beat.at_s
    told = []
    for early_s in (0.1, 0.9):
        moved = notes._replace(small_s=(beat_s - early_s,), main_s=beat_s)
        told.append(judge(report.line, replace(report.heard, notes={**report.heard.notes, number: moved}))[number])
    assert ["before", "cannot tell"] == [each.how for each in told]
    assert "too long before the beat" in told[1].why[0]
