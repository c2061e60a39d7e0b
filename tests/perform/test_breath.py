"""Breaths of winds that nothing printed asks for."""

from __future__ import annotations

import pytest

from appui.exact import Fraction
from appui.perform.breath import BREATH_S, breaths_of, held_before
from appui.perform.sheet import sheet_of
from tests.perform.playing import played
from tests.realize.voices import note, score

EVEN = note("E5", 8) * 4
LONG = note("E5", 8) * 2 + note("F5", 16)
SLURRED = note("E5", 8) * 2 + note("F5", 16, "<slur type='start' number='1'/>")
ONWARD = note("E5", 8, "<slur type='stop' number='1'/>") + note("E5", 8) * 3


def breaths(*bars: str) -> list[float]:
    """Printed onsets of the notes after which an oboe at 60 quarters a minute breathes."""
    return sorted(map(float, breaths_of(sheet_of(score(*bars)), 0)))


def test_after_the_longest_note_before_the_breath_runs_out() -> None:
    """Quarters of a second each; the half note of bar two."""
    assert [6.0] == breaths(EVEN, LONG, EVEN, EVEN)


def test_not_where_a_slur_leads_on() -> None:
    """The long note is slurred to the next: one of the quarters after it, the latest in reach."""
    (found,) = breaths(EVEN, SLURRED, ONWARD, EVEN)
    assert found != 6.0
    assert 3.0 <= found + 1 <= 9.0


def test_a_rest_is_a_breath() -> None:
    """Nobody breathes besides where there are rests enough."""
    assert [] == breaths(*(note("E5", 8) * 3 + note("R", 8) for _ in range(4)))


def test_a_breath_mark_is_one() -> None:
    """Two bars after it there is air left."""
    mark = "<articulations><breath-mark/></articulations>"
    assert [] == breaths(EVEN, note("E5", 8) * 3 + note("E5", 8, mark), EVEN, note("E5", 32))


def test_one_breath_after_another() -> None:
    """Over a minute none is further than nine seconds from the last, none nearer than three."""
    found = [at + 1 for at in breaths(*(EVEN for _ in range(15)))]
    steps = [other - one for one, other in zip([0.0, *found], found, strict=False)]
    assert len(found) >= 6
    assert all(3.0 <= step <= 9.0 for step in steps)


def test_two_voices_do_not_breathe() -> None:
    """A part that overlaps itself is a keyboard's, or two players'."""
    assert [] == breaths(*(note("E5", 32) + note("C5", 32, chord=True) for _ in range(8)))


def test_the_next_note_stays_in_time() -> None:
    """The breath is taken from the note before it, and only in shaped levels."""
    music = score(EVEN, LONG, EVEN, EVEN)
    plain, shaped = (played(music, shape=shape) for shape in ("plain", "shaped"))
    assert [one.onset_s for one in plain] == [one.onset_s for one in shaped]
    place = next(at for at, one in enumerate(shaped) if one.onset_q == Fraction(6))
    assert pytest.approx(2 - BREATH_S) == shaped[place].duration_s
    assert pytest.approx(2 - 0.025) == plain[place].duration_s


@pytest.mark.parametrize("length_s", [0.2, 0.5, 4.0])
def test_a_breath_leaves_most_of_a_note(length_s) -> None:
    """No more than 0.18 s, no more than 35 in a hundred."""
    taken = 1 - held_before(length_s)
    assert 0 < taken <= 0.35
    assert taken * length_s <= BREATH_S + 1e-9
