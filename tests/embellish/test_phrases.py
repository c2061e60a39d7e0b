"""Phrases and the plan of one: where they end, what is wanted of each note, spread as measured."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.embellish.manners import MANNERS
from appui.embellish.phrase_plan import PhrasePlan, draw
from appui.embellish.phrases import Phrase, phrases_of
from appui.exact import Fraction
from tests.embellish.pieces import interpretation

CHORD = "C3+E4+G4w"


def phrases(solo: str, bass: str) -> list[tuple[int, int, int | None]]:
    """The phrases of a solo: first and last event, what it says again."""
    made = interpretation(solo, bass)
    return [(*each,) for each in phrases_of(made.score, made.solo.voices[0].events, made.analysis.ground(0, 0))]


def plan(phrase: Phrase, character: str = "slow", manner: str = "free", variation: int = 1) -> PhrasePlan:
    """A plan at 60 beats a minute."""
    return PhrasePlan(phrase, 1, variation, "moderate", manner, character, 1.0, 1.0)


def test_a_phrase_ends_with_a_rest_of_a_beat():
    """After a bar at least (common practice, no source)."""
    found = phrases("C5h E5h | G5h E5h | Rw | C5h E5h", " | ".join([CHORD] * 4))
    assert [(0, 3), (5, 6)] == [each[:2] for each in found]


def test_a_phrase_ends_with_a_close():
    """On the tonic, a step after the dominant."""
    found = phrases("C5h E5h | D5w | C5w | E5h G5h", f"{CHORD} | G2+B3+F4w | {CHORD} | {CHORD}")
    assert (0, 3) == found[0][:2]


def test_a_phrase_said_again_on_another_degree_is_known():
    """Steps and values of its first bar (common practice, no source)."""
    bars = " | ".join([CHORD] * 3 + ["G2+B3+F4w"] + [CHORD] * 3)
    found = phrases("C5q E5q G5h | Rw | D5q F5q A5h | Rw | C5w | C5w | C5w", bars)
    assert found[1][2] == found[0][0]


def test_the_first_note_and_the_goal_of_a_phrase_stay():
    """Phrase ends are left plain (common practice, no source)."""
    own = plan(Phrase(0, 9))
    for index in (0, 9):
        wanted = own.wanted(index, 1000, Fraction(1), on_beat=True)
        assert ("struck", True) == (wanted.treatment, wanted.onsets <= 1)


@pytest.mark.parametrize(("character", "least", "most"), [("slow", 0.53, 0.63), ("fast", 0.15, 0.25)])
def test_the_treatments_of_the_plain_notes_are_spread_as_their_table_says(character, least, most):
    """Over six hundred notes, within a twentieth."""
    own = plan(Phrase(0, 601), character)
    found = Counter(own.wanted(index, 0, Fraction(1), on_beat=True).treatment for index in range(1, 601))
    assert least < found["struck"] / 600 < most
    assert found["delayed"] > found["passed over"] / 2 > 0


def test_it_is_busier_towards_the_goal():
    """More notes in the last third of a phrase than in its first."""
    wanted = [plan(Phrase(0, 301)).wanted(i, 7, Fraction(1), on_beat=False).onsets for i in range(1, 301)]
    assert sum(wanted[200:]) > 1.1 * sum(wanted[:100])


def test_the_methodical_manner_strikes_more_and_the_lament_runs_less():
    """What the table of manners says comes out in the plan."""
    struck, many = {}, {}
    for manner in MANNERS:
        own = plan(Phrase(0, 301), manner=manner)
        found = [own.wanted(index, 7, Fraction(1), on_beat=True) for index in range(1, 301)]
        struck[manner] = sum(each.treatment == "struck" for each in found)
        many[manner] = sum(each.onsets for each in found)
    assert struck["methodical"] > 1.2 * struck["free"]
    assert many["lament"] < 0.8 * many["free"]


@given(st.integers(0, 10**6), st.text(max_size=9))
def test_a_draw_is_the_same_every_time_and_below_one(number, words):
    """Nothing but its words decides it."""
    assert 0 <= draw(number, words) == draw(number, words) < 1


def test_an_answer_has_another_taste_than_what_it_answers():
    """The parallel phrase is varied otherwise, as the next variation has the first."""
    first, answer = plan(Phrase(0, 9)), plan(Phrase(20, 29, 0))
    assert first.key != answer.key == plan(Phrase(0, 9), variation=2).key
