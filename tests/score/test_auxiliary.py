"""The neighbours of a note as the page makes them."""

import pytest

from appui.score.auxiliary import Auxiliaries, narrowed
from appui.score.pitch import parse_pitch
from appui.score.signs import find_signs
from tests.written import bar, grace, note, part, score

TRILL = "<notations><ornaments><trill-mark/>{}</ornaments></notations>"


def neighbours(*content: str, key: int = 0, marks: str = "") -> tuple[str, str]:
    """The notes above and below a trilled half note that ends a bar."""
    signature = f"<key><fifths>{key}</fifths></key>"
    music = score(part(bar(*content, note("G5", 8, TRILL.format(marks))), before=signature))
    sign = next(each for each in find_signs(music) if each.kind == "trill")
    near = Auxiliaries(music).of(sign)
    return near(1).name, near(-1).name


def test_the_key_signature_makes_the_neighbours() -> None:
    """C.P.E. Bach 1753, 2.1 §17 (read): G in D major lies between A and F sharp."""
    assert ("A5", "F#5") == neighbours(note("D5", 8), key=2)


def test_an_accidental_in_force_goes_before_the_key() -> None:
    """An A flat earlier in the bar."""
    assert ("Ab5", "F5") == neighbours(note("Ab5", 8))


def test_a_small_note_s_accidental_counts() -> None:
    """Right before the trill."""
    assert ("Ab5", "F5") == neighbours(note("D5", 8), grace("Ab5"))


def test_the_mark_over_the_sign_goes_before_all() -> None:
    """A flat above it."""
    flat = '<accidental-mark placement="above">flat</accidental-mark>'
    assert "Ab5" == neighbours(note("A5", 8), marks=flat)[0]


@pytest.mark.parametrize(("near", "main", "found"), [("D#5", "C5", "D5"), ("Db5", "C5", "Db5"), ("Bbb4", "C5", "Bb4")])
def test_a_neighbour_is_a_whole_tone_away_at_most(near: str, main: str, found: str) -> None:
    """C.P.E. Bach 1753, 2.3 §19 (read): no augmented second."""
    assert found == narrowed(parse_pitch(near), parse_pitch(main)).name
