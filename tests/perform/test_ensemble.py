"""Several players: a few milliseconds apart, and always in the same way."""

from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.perform.ensemble import WIDEST_S, Lateness, late_s
from appui.perform.model import PerformedNote, TempoStep
from appui.realize.contract import Tone
from appui.score.model import Event
from appui.score.pitch import Pitch

C = Pitch("C", 0, 4)


@given(st.integers(0, 40), st.floats(0, 10_000))
def test_nobody_is_early_and_nobody_is_heard_as_late(part: int, printed_q: float) -> None:
    """Between nought and the widest, which is a design value."""
    assert 0 < late_s(part, printed_q) < WIDEST_S


def test_a_part_swings_with_the_place() -> None:
    """It is not a fixed delay."""
    assert len({round(late_s(1, at), 4) for at in range(8)}) > 4


@given(st.integers(30, 200), st.integers(1, 20))
def test_quarters_and_seconds_are_moved_alike(qpm: int, at: int) -> None:
    """At any tempo, to a part of a thousandth of a quarter."""
    steps = [TempoStep(Fraction(0), 0.0, Fraction(qpm))]
    onset = Fraction(at)
    tone = Tone(onset, Fraction(1), C, "plain", onset, Event(onset, Fraction(1), 0))
    note = PerformedNote(onset, Fraction(1), at * 60 / qpm, 60 / qpm, C, 60, 90)
    (late,) = Lateness(steps).notes(2, [tone], [note])
    assert abs(float(late.onset_q - onset) * 60 / qpm - (late.onset_s - note.onset_s)) < 60 / qpm / 10_000
    assert late.onset_s > note.onset_s
