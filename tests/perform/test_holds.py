"""Fermatas printed in several parts: what the player decides for one of them holds for all."""

import pytest

from appui.demo import bare_andante, demo_score
from appui.exact import Fraction
from appui.interpret.interpretation import holds_played, interpret
from appui.interpret.wishes import Wishes
from appui.perform.play import play

#  the demo ends in a dotted minim under a fermata in all four parts, at 72 crotchets a minute
PLACE, NOTE_S = "oboe.30.1.2", 3 * 60 / 72


@pytest.mark.parametrize(("reading", "times"), [("hold 3 times", 3.0), ("hold 1.5 times", 1.5), ("plain", 1.0)])
def test_a_taken_reading_goes_before_the_other_parts(reading: str, times: float) -> None:
    """Longer, shorter or not held at all: the others' fermatas, held twice their length, give way."""
    taken = interpret(demo_score(), Wishes(takes=(f"{PLACE}={reading}",)))
    performance = play(taken, taken.order("30", repeats=False))
    ends = {note.onset_s + note.duration_s for part in performance.parts for note in part.notes[-1:]}
    assert all(pytest.approx(NOTE_S * times, abs=0.1) == end - performance.seconds(performance.lead_q) for end in ends)


def test_a_reading_changed_for_one_hearing_goes_before_them_too() -> None:
    """As the comparison of readings and the page ask for it."""
    interpretation = interpret(demo_score())
    changed = {PLACE: interpretation.reading(PLACE, "plain")}
    assert ([Fraction(2)], []) == (
        [hold.times for hold in holds_played(interpretation)],
        list(holds_played(interpretation, changed)),
    )


def test_other_fermatas_stay() -> None:
    """A decision concerns only the fermatas that meet it in time."""
    plain, taken = (
        holds_played(interpret(bare_andante(), Wishes(takes=takes))) for takes in ((), ("flute.4.1=plain",))
    )
    assert (2, 1) == (len(plain), len(taken))
    assert plain[1:] == taken
