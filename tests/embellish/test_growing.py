"""A draft for a fermata as it grows, gesture by gesture."""

import pytest

from appui.embellish.growing import GrowingLine
from appui.embellish.model import Figure
from appui.exact import Fraction
from appui.score.pitch import Pitch, parse_pitch
from tests.embellish.test_rules import CADENZA, case
from tests.there import there

UNIT = Fraction(1, 4)


def growing(start: str = "G5") -> GrowingLine:
    """A line that has begun on a note over the six-four chord of C."""
    one = case(**CADENZA)
    line = GrowingLine(one, there(one.ground.at(one.start_q)), UNIT)
    line.add(parse_pitch(start), 4, "printed")
    return line


def letters(line: GrowingLine) -> list[int]:
    """Its letter positions, counted from the first."""
    found = [place.diatonic if isinstance(place, Pitch) else place for place in line.line]
    return [each - found[0] for each in found]


def test_a_scale_goes_by_step_and_grows_quicker() -> None:
    """Up to its end, which is dwelt on."""
    line = growing()
    assert line.scale(parse_pitch("E6"), "peak")
    assert [0, 1, 2, 3, 4, 5] == letters(line)
    inner = line.values[1:-1]
    assert inner == sorted(inner, reverse=True)
    assert line.values[-1] > inner[-1]


@pytest.mark.parametrize("to", ["G5", "G7"])
def test_a_scale_to_itself_or_too_far_cannot_be(to: str) -> None:
    """Nothing is added."""
    line = growing()
    assert not line.scale(parse_pitch(to), "peak")
    assert [0] == letters(line)


def test_what_leads_into_the_arrival_broadens() -> None:
    """The last note of the run before it."""
    line = growing()
    assert line.scale(parse_pitch("C5"), "arrival")
    assert line.values[-2] == 4 * UNIT


def test_a_broken_chord_has_the_chord_s_notes() -> None:
    """From G up to the next G by C and E."""
    line = growing()
    assert line.chord(parse_pitch("G6"), "peak")
    assert [0, 3, 5, 7] == letters(line)


def test_a_broken_chord_from_a_foreign_note_cannot_be() -> None:
    """A is none of the chord's."""
    assert not growing("A5").chord(parse_pitch("G6"), "peak")


def test_a_sigh_leans_from_above() -> None:
    """Each chord note with the note over it, long, and itself again."""
    line = growing()
    assert line.chord(parse_pitch("E6"), "peak", "sighed")
    assert [0, 3, 4, 3, 5] == letters(line)
    assert line.values[2] > line.values[1]


def test_a_turn_goes_around_its_note() -> None:
    """Above, itself, below, and itself longer."""
    line = growing()
    assert line.turn()
    assert [0, 1, 0, -1, 0] == letters(line)
    assert line.values[-1] > line.values[-2]


def test_a_breath_is_taken_on_a_chord_note_only() -> None:
    """A foreign note is not left hanging."""
    assert growing().breath()
    assert not growing("A5").breath()


def test_the_piece_s_figure_is_said_in_its_own_values() -> None:
    """Where it begins with the held note, that is its first note; one too quick for what comes after it is left out."""
    own = parse_pitch("G5").diatonic
    figure = Figure((own, own + 1, own), (Fraction(1, 2), Fraction(1, 4), Fraction(1, 4)), 1, 1.0, 1.0, "made up")
    line = growing()
    assert line.said(figure)
    assert [0, 1, 0] == letters(line)
    assert not growing().said(figure._replace(values_q=(Fraction(1, 16),) * 3))
