"""The habits of a print, and what is made of them."""

from itertools import pairwise

import pytest

from appui.exact import Fraction
from tests.situations.spelling import choices, played, situation

C = "C3+E3+G3:4"
#  a dissonance on a stressed beat before a half note, with or without a stroke
STROKE, NONE = "G4:2 /D5q>C5:2", "G4:2 D5q>C5:2"


def _bars(*bars: str) -> tuple[str, str]:
    return " | ".join(bars), " | ".join([C] * len(bars))


def test_a_stroke_on_all_small_notes_says_nothing() -> None:
    """Grove's Dictionary vol. 1 (1879), p. 77 (read): new editions print it even where the note is long."""
    found = choices(situation(*_bars(STROKE, STROKE, STROKE, STROKE)))
    assert {"leaning 1/2"} == {choice.reading.text for choice in found}
    assert all("stroke through the stem tells nothing here" in choice.reason for choice in found)


def test_a_stroke_on_nearly_all_says_nothing() -> None:
    """Nine of ten: the one without is no reason to play the nine short."""
    found = choices(situation(*_bars(*[STROKE] * 9, NONE)))
    assert {"leaning 1/2"} == {choice.reading.text for choice in found}


def test_a_stroke_that_tells_apart_is_short_and_doubtful() -> None:
    """Both kinds in one movement: short, with leaning among what else is to be heard."""
    found = choices(situation(*_bars(STROKE, NONE, STROKE, NONE, NONE)))
    assert ["short", "leaning 1/2", "short", "leaning 1/2", "leaning 1/2"] == [c.reading.text for c in found]
    assert [True, False, True, False, False] == [choice.doubtful for choice in found]
    assert "leaning 1/2" in found[0].alternatives


@pytest.mark.parametrize(("wish", "expected"), [("as-printed", "short"), ("ignore", "leaning 1/2")])
def test_the_player_knows_the_edition(wish: str, expected: str) -> None:
    """What is asked of strokes goes before the habit of the print."""
    made = situation(*_bars(STROKE, NONE, STROKE, NONE, STROKE), strokes=wish)
    assert expected == choices(made)[0].reading.text


def test_in_later_music_a_stroke_is_the_composers() -> None:
    """About 1830 the stroke has become the sign of a short one (an article, read)."""
    assert "short" == choices(situation(*_bars(*[STROKE] * 5), year=1850))[0].reading.text


def test_one_value_for_all_lengths_says_nothing() -> None:
    """C.P.E. Bach 1753, 2.2 §5 (read): formerly all were written as eighths; so half of a whole note."""
    made = situation("G4:2 D5e>C5:2 | D5e>C5:4 | G4:3 D5e>C5:1 | A4:2 D5e>C5:2", " | ".join([C] * 4))
    assert "leaning 1/2" == choices(made)[1].reading.text
    assert Fraction(1, 2) == made.analysis.print.of(made.signs[0]).one_value


def test_values_that_differ_are_taken_at_their_word() -> None:
    """An eighth before a whole note is an eighth where others are quarters."""
    made = situation("G4:2 D5q>C5:2 | D5e>C5:4 | G4:3 D5e>C5:1 | A4:2 D5q>C5:2", " | ".join([C] * 4))
    assert "leaning 1/8" == choices(made)[1].reading.text


def test_hidden_notes_do_not_sound_beside_their_ornament() -> None:
    """The editor's realization is no second part; it can be heard in the ornament's place."""
    trill = "C5:2 D5:2!tr & r:2h E5:1/4h D5:1/4h E5:1/4h D5:1/4h E5:1/4h D5:1/4h C5:1/4h D5:1/4h | C5:4"
    made = situation(trill, "C3+E3+G3:2 G2+B3+D4:2 | C3+E3+G3:4")
    (choice,) = choices(made, "trill")
    assert "spelled out" in choice.alternatives
    from appui.interpret.realizing import realize

    tones = realize(made, made.order(repeats=False)).tones[0]
    assert all(one.end_q <= other.onset_q for one, other in pairwise(tones))
    heard = situation(trill, "C3+E3+G3:2 G2+B3+D4:2 | C3+E3+G3:4", takes=(f"{choice.place}=spelled out",))
    assert ["E5", "D5", "E5", "D5", "E5", "D5", "C5", "D5"] == played(heard, "trill")


def test_an_ornament_on_a_hidden_note_is_the_visible_notes() -> None:
    """A trill mark on a silent cue note over the same note in print."""
    made = situation("C5:2 D5:2 & r:2h D5:2hc!tr | C5:4", "C3+E3+G3:2 G2+B3+D4:2 | C3+E3+G3:4")
    assert len(played(made, "trill")) >= 6


def test_the_print_is_told_in_a_sentence() -> None:
    """What was counted, and what it means."""
    made = situation(*_bars(STROKE, STROKE, STROKE, STROKE))
    (movement,) = made.analysis.print.movements
    words = made.analysis.print.at(0, movement).words
    assert words == ("4 of 4 single small notes have a stroke through the stem, so the stroke tells nothing apart.")
