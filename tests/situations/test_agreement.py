"""What belongs together is played together: common practice, no source."""

import pytest

from appui.exact import Fraction
from tests.situations.spelling import choices, situation
from tests.there import there


@pytest.mark.parametrize("upper", ["A5e>G5:2", "F5e>E5:2", "D6e>C6:2"])
def test_parts_in_parallel_agree(upper: str) -> None:
    """Thirds, unisons and octaves, sixths at one moment have one way of playing."""
    made = situation(f"G4:2 {upper}", "G4:2 F5e>E5:2", "C3+G3:4")
    first, second = choices(made)[0], choices(made, part=1)[0]
    assert first.placement == second.placement
    assert first.reading == second.reading


def test_a_figure_that_comes_again_is_played_alike() -> None:
    """Over the same chord, whatever note goes before it."""
    music = "D5e>C5:1 E5:1 G4:2 | F5:2 E5:2 | D5e>C5:1 E5:1 G4:2 | C5:4"
    made = situation(music, "C3+E3+G3:4 | D3+F3:2 C3+G3:2 | C3+E3+G3:4 | C3:4", style="tuerk-1789")
    first, second = choices(made)
    assert first.reading == second.reading


def test_the_clearer_place_is_named_by_the_other() -> None:
    """A part whose staccato dot would make it short goes with the two parts beside it, and says with which."""
    made = situation("G4:2 A5e>G5:2.", "C5:2 F5e>E5:2", "G3:2 D5e>C5:2", "C3:4", style="tuerk-1789")
    (choice,) = choices(made)
    (other,) = choices(made, part=1)
    assert choice.reading == other.reading
    assert choice.like in {sign.place for sign in made.signs if sign.part}
    assert choice.why.startswith(f"as in {choice.like}, which belongs with it and is clearer: ")
    assert "short" in choice.alternatives


def test_another_harmony_is_a_reason_to_differ_and_is_told() -> None:
    """The same small note, once in the chord and once not."""
    made = situation("C6q>Bb5:2 G5:2 | C6q>Bb5:2 G5:2", "E3+G3+C4:4 | Bb2+D3+F3:4")
    first, second = choices(made)
    assert first.reading.name != second.reading.name
    assert "over another harmony than in bar 1" in second.why


def test_neighbouring_falling_thirds_are_alike() -> None:
    """One figure, one manner, whichever link the rules would have read otherwise."""
    made = situation("C6:1 B5e>A5:1 G5e>F5:1 E5e>D5:1 | E5:4", "F3+A3+C4:4 | C3+E3+G3:4")
    assert 1 == len({choice.reading for choice in choices(made)})


def test_what_the_player_has_decided_stays() -> None:
    """It is not outvoted, and it does not decide for other places."""
    bars = ("D5e>C5:2 G4:2 | E5:4 | D5e>C5:2 G4:2", "C3+E3+G3:4 | C3:4 | C3+E3+G3:4")
    made = situation(*bars, takes=("flute.1.1=before",))
    assert ["before", "leaning 1/4"] == [choice.reading.text for choice in choices(made)]


def test_notes_of_unequal_length_lean_equally_long() -> None:
    """Two parts at one moment: the leaning notes last as long as one another."""
    made = situation("G4:2 F5q>E5:2 | C5:4", "G4:2 D5q>C5:1 C5:1 | C5:4", "C3+G3:4 | C3:4")
    lengths = []
    for part in (0, 1):
        reading = choices(made, part=part)[0].reading
        made_q, share = reading.number("made"), reading.number("share")
        lengths.append(made_q if made_q is not None else there(share) * (2 if part == 0 else 1))
    assert 1 == len(set(lengths))
    assert isinstance(lengths[0], Fraction)
