"""Excerpts one after another, with clicks before each."""

from appui.exact import Fraction
from appui.perform.excerpt import CLICKS, chain, clicks, later, led_in
from appui.perform.model import Performance, PerformedNote, PerformedPart, TempoStep
from appui.score.model import Meter
from appui.score.pitch import Pitch

Q = Fraction
C = Pitch("C", 0, 5)


def piece(key: int, qpm: int = 60) -> Performance:
    """A half note of an oboe."""
    note = PerformedNote(Q(0), Q(2), 0.0, 120 / qpm, C, key, 90)
    steps = (TempoStep(Q(0), 0.0, Q(qpm)),)
    return Performance("made", (PerformedPart("P1", "Oboe", 68, (note,)),), steps, (), Q(2), 120 / qpm)


def onsets(performance: Performance) -> list[tuple[Fraction, float]]:
    """When the notes of all parts begin."""
    return [(note.onset_q, note.onset_s) for part in performance.parts for note in part.notes]


def test_a_bar_of_clicks_is_on_the_beats() -> None:
    """In 6/8 two of them, the first of another sound."""
    made = clicks(Meter(6, 8), Q(90))
    assert [CLICKS[0], CLICKS[1]] == [note.key for note in made.parts[0].notes]
    assert [(Q(0), 0.0), (Q(3, 2), 1.0)] == onsets(made)
    assert (Q(3), 2.0) == (made.length_q, made.length_s)


def test_what_is_moved_keeps_its_length() -> None:
    """Notes, tempos and the end lie so much later."""
    made = later(piece(60), Q(3), 4.0)
    assert [(Q(3), 4.0)] == onsets(made)
    assert (Q(3), 4.0) == (made.tempos[0].onset_q, made.tempos[0].onset_s)
    assert (Q(5), 6.0) == (made.length_q, made.length_s)


def test_silence_before_the_first_beat_is_at_its_tempo() -> None:
    """Three quarters at 120 last a second and a half, and the tempo is there from the start."""
    made = led_in(piece(60, qpm=120), Q(3))
    assert [(Q(3), 1.5)] == onsets(made)
    assert (Q(0), Q(3)) == (made.tempos[0].onset_q, made.lead_q)


def test_a_chain_is_one_time_line() -> None:
    """Each begins where the one before ends; parts of one id are one part."""
    made = chain([clicks(Meter(2, 4), Q(60)), piece(60), piece(62)], "all")
    assert ["click", "P1"] == [part.id for part in made.parts]
    assert [(Q(2), 2.0), (Q(4), 4.0)] == [(note.onset_q, note.onset_s) for note in made.parts[1].notes]
    assert (Q(6), 6.0) == (made.length_q, made.length_s)
