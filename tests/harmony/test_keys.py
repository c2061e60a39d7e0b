"""Local keys, bar by bar."""

import pytest

from appui.exact import Fraction
from appui.harmony.analyse import analyse
from appui.harmony.spelling import letter_of

CADENCE = "C3+E4+G4+C5:2 F3+F4+A4+C5:2 | G3+F4+B4+D5:2 C3+E4+G4+C5:2"
MINOR = "C3+Eb4+G4+C5:2 F3+F4+Ab4+C5:2 | G3+F4+B4+D5:2 C3+Eb4+G4+C5:2"


def tonics(score):
    """Tonic letter and mode of each bar."""
    return [(letter_of(tonic), "minor" if minor else "major") for tonic, minor in analyse(score).keys]


def signature(fifths: int) -> dict[str, str]:
    """XML of a key signature for the piano."""
    return {"Piano": f"<attributes><key><fifths>{fifths}</fifths></key></attributes>"}


@pytest.mark.parametrize(
    ("shift", "tonic", "fifths"),
    list(
        zip(range(12), "C Db D Eb E F F# G Ab A Bb B".split(), (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5), strict=True)
    ),
)
def test_a_cadence_tells_its_major_key(written, major_up, shift, tonic, fifths) -> None:
    """I IV V7 I in every key, spelled (common practice, no source)."""
    score = written({"Piano": CADENCE}, major_up[shift], extra=signature(fifths))
    assert [(tonic, "major")] * 2 == tonics(score)


@pytest.mark.parametrize(
    ("shift", "tonic", "fifths"),
    list(
        zip(range(12), "C C# D Eb E F F# G G# A Bb B".split(), (-3, 4, -1, -6, 1, -4, 3, -2, 5, 0, -5, 2), strict=True)
    ),
)
def test_a_cadence_tells_its_minor_key(written, minor_up, shift, tonic, fifths) -> None:
    """The same in minor, i iv V7 i, in every key."""
    score = written({"Piano": MINOR}, minor_up[shift], extra=signature(fifths))
    assert [(tonic, "minor")] * 2 == tonics(score)


def test_a_modulation_to_the_dominant(written) -> None:
    """Four bars in C, then four with D7 and G: the key changes (common practice, no source)."""
    home = "C3+E4+G4+C5:2 G3+F4+B4+D5:2 | C3+E4+G4+C5:2 F3+F4+A4+C5:2 | G3+F4+B4+D5:2 C3+E4+G4+C5:2"
    away = "D3+F#4+A4+C5:2 G3+G4+B4+D5:2 | C3+E4+A4+C5:2 D3+F#4+A4+C5:2 | G3+G4+B4+D5:4 | D3+F#4+A4+C5:2 G3+G4+B4+D5:2"
    found = tonics(written({"Piano": f"{home} | {away}"}))
    assert (("C", "major"), ("G", "major")) == (found[0], found[-1])


def test_a_passing_dominant_of_the_dominant_is_no_modulation(written) -> None:
    """One D7 before G7 and C leaves the key alone, and is numbered V7 of V."""
    music = f"{CADENCE} | D3+F#4+A4+C5:2 G3+F4+B4+D5:2 | C3+E4+G4+C5:4 | {CADENCE}"
    score = written({"Piano": music})
    assert {("C", "major")} == set(tonics(score))
    assert "D7" == analyse(score).chord_at(Fraction(8))[0].label


def test_silence_keeps_the_key(written) -> None:
    """Bars of rest between two bars of G major stay in G."""
    cadence = "G3+G4+B4+D5:2 D3+F#4+A4+C5:2 | G3+G4+B4+D5:4"
    assert {("G", "major")} == set(tonics(written({"Piano": f"{cadence} | r:4 | r:4 | {cadence}"})))
