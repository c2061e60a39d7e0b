"""Local keys, bar by bar."""

import numpy as np
import pytest

from appui.exact import Fraction
from appui.harmony.analyse import analyse
from appui.harmony.keys import key_chances
from appui.harmony.spelling import letter_of
from appui.harmony.templates import CHORDS
from appui.harmony.verdicts import verdict_of
from appui.score.signs import find_signs

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


def test_the_chances_of_a_bar_are_chances() -> None:
    """Of 24 keys in each bar they add up to one, and a cadence leaves no doubt (common practice, no source)."""
    cadence = np.zeros((3, len(CHORDS)))
    for bar, (root, kind) in enumerate(((0, "major"), (7, "dominant seventh"), (0, "major"))):
        cadence[bar, next(i for i, c in enumerate(CHORDS) if (c.root, c.type.name) == (root, kind))] = 4.0
    chances = key_chances(cadence, np.zeros(3, np.int64))
    assert np.allclose(1.0, chances.sum(1))
    assert chances[:, 0].min() > 0.8


def test_a_key_that_is_not_sure_is_not_named(written) -> None:
    """Chords of no key in common: the chord is named alone, without a key or a degree."""
    music = "C3+E4+G4+C5:4 | F#3+A#4+C#5+F#5:4 | Eb3+G4+Bb4+Eb5:4 | A3+C#4+E4+A4:4"
    score = written({"Oboe": "C6:4 | C#6:4 | F6>Eb6:4 | A5:4", "Piano": music})
    (sign,) = [sign for sign in find_signs(score) if sign.small]
    verdict = verdict_of(analyse(score), sign)
    assert ("Eb", "", "") == (verdict.root, verdict.key, verdict.roman)
