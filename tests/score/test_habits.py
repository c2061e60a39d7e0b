"""What a print does throughout: strokes, values of small notes, endings of trills."""

from appui.exact import Fraction
from appui.score.habits import Habits, Print
from appui.score.signs import find_signs
from tests.written import bar, grace, note, part, score

STROKED = grace("D5").replace("<grace/>", '<grace slash="yes"/>')


def habits(*bars: tuple[str, str]) -> Habits:
    """The habits of the one part."""
    music = score(part(*bars))
    signs = find_signs(music)
    return Print(music, signs).of(signs[0])


def before(small: str, duration: int) -> str:
    """A small note before a note that lasts so many divisions, four to a quarter."""
    return small + note("C5", duration)


def test_a_print_without_strokes_says_so() -> None:
    """Four small notes and more."""
    found = habits(bar(*(before(grace("D5"), 4) for _ in range(4))))
    assert ("none", "No small note has a stroke through its stem.") == (found.strokes, found.words)


def test_strokes_on_all_tell_nothing_apart() -> None:
    """Grove's Dictionary vol. 1, 1879, p. 77 (read): new editions print them even where the note is long."""
    found = habits(bar(*(before(STROKED, 4) for _ in range(4))))
    assert "nearly all" == found.strokes
    assert "tells nothing apart" in found.words


def test_strokes_on_some_tell_them_apart() -> None:
    """Three of four are not nearly all."""
    found = habits(bar(*(before(STROKED, 4) for _ in range(3)), before(grace("D5"), 4)))
    assert ("some", 3, 4) == (found.strokes, found.stroked, found.single)


def test_one_value_before_notes_of_different_length_is_a_habit() -> None:
    """C.P.E. Bach 1753, 2.2 §5 (read): all were once written as eighths."""
    found = habits(
        bar(before(grace("D5"), 8), before(grace("D5"), 8)), bar(*(before(grace("D5"), 4) for _ in range(4)))
    )
    assert Fraction(1, 2) == found.one_value
    assert "all small notes are printed as eighths" in found.words


def test_one_value_before_notes_of_one_length_is_none() -> None:
    """Then it may mean what it says."""
    assert habits(bar(*(before(grace("D5"), 4) for _ in range(4)))).one_value is None


def test_a_part_with_few_small_notes_is_read_with_the_others() -> None:
    """One of its own tells nothing; those of the movement do."""
    own = part(bar(before(STROKED, 16)), name="Oboe")
    music = score(own, part(bar(*(before(STROKED, 4) for _ in range(4))), name="Violin"))
    signs = find_signs(music)
    assert (5, "nearly all") == ((found := Print(music, signs).of(signs[0])).single, found.strokes)
