"""The harmony under one voice: chords to build upon, scale notes, neighbours."""

import pytest

from appui.exact import Fraction
from appui.harmony.analyse import analyse
from appui.harmony.ground import Footing, Ground
from appui.score.pitch import parse_pitch
from tests.there import there

C_MAJOR, A_MINOR = (0, False), (3, True)


def footing(letters: str, key: tuple[int, bool] = C_MAJOR, bass: int | None = None) -> Footing:
    """A chord by its letters, root first."""
    names = tuple(letters.split())
    places = dict(zip("FCGDAEB", range(-1, 6), strict=True))
    return Footing("made", names, places[names[0][0]] + 7 * names[0].count("#"), bass, 0.9, key)


def ground(written) -> Ground:
    """C and G7 under a voice that rests."""
    score = written({"Oboe": "r:4 | r:4", "Piano": "C3+E4+G4:4 | G3+B3+D4+F4:4"})
    return Ground(score, analyse(score), 0, 0)


def test_a_chord_has_its_notes_in_every_octave() -> None:
    """And no others."""
    chord = footing("C E G")
    assert chord.has(parse_pitch("E7"))
    assert not chord.has(parse_pitch("F4"))


def test_a_triad_over_its_own_fifth_is_a_six_four_chord() -> None:
    """Over its root, or with a seventh, it is none."""
    assert footing("C E G", bass=1).six_four
    assert not footing("C E G", bass=0).six_four
    assert not footing("C E G Bb", bass=1).six_four


def test_the_dominant_is_major_on_the_fifth_degree() -> None:
    """E G sharp B in A minor; E G B is none."""
    assert footing("G B D F").dominant
    assert footing("E G# B", A_MINOR).dominant
    assert not footing("E G B", A_MINOR).dominant


def test_the_chord_s_own_accidental_goes_before_the_key() -> None:
    """G sharp while E major sounds in A minor, else G."""
    assert 1 == footing("E G# B", A_MINOR).alter("G")
    assert 0 == footing("A C E", A_MINOR).alter("G")


def test_what_is_under_a_moment_is_the_chord_that_sounds(written) -> None:
    """Bar by bar."""
    under = ground(written)
    assert [("C", "E", "G"), ("G", "B", "D", "F")] == [there(under.at(Fraction(at))).letters for at in (0, 4)]
    assert ["C3", "G3"] == [there(under.lowest(Fraction(at))).name for at in (0, 4)]


def test_where_nothing_else_sounds_there_is_no_ground(written) -> None:
    """A solo alone."""
    score = written({"Oboe": "C5:4 | D5:4"})
    assert Ground(score, analyse(score), 0, 0).at(Fraction(0)) is None


@pytest.mark.parametrize(
    ("name", "steps", "found"), [("C5", 1, "D5"), ("C5", -1, "B4"), ("F5", -1, "E5"), ("C5", 2, "E5")]
)
def test_neighbours_are_of_the_scale(written, name: str, steps: int, found: str) -> None:
    """C major."""
    assert found == ground(written).neighbour(parse_pitch(name), steps, Fraction(0)).name


def test_a_chord_shares_its_notes_with_what_has_them_all_and_with_its_own_triad():
    """C major with C7 and A minor seventh; C7 with C; not C with E minor, nor A minor seventh with C."""
    from appui.harmony.segment import kin_table
    from appui.harmony.templates import CHORDS

    def at(*classes: int, root: int) -> int:
        return next(i for i, c in enumerate(CHORDS) if set(c.classes) == set(classes) and c.root == root)

    c, c7, am7, em = (
        at(0, 4, 7, root=0),
        at(0, 4, 7, 10, root=0),
        at(9, 0, 4, 7, root=9),
        at(4, 7, 11, root=4),
    )
    kin = kin_table()
    assert [1, 1, 1] == [kin[c, c], kin[c, c7], kin[c, am7]]
    assert [1, 0, 0] == [kin[c7, c], kin[c, em], kin[am7, c]]
