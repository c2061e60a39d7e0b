"""Verdicts on constructed harmonies."""

import pytest
from music21 import chord as second_opinion

from appui.exact import Fraction
from appui.harmony.analyse import analyse
from appui.harmony.verdicts import verdict_of
from appui.score.pitch import parse_pitch
from appui.score.signs import find_signs
from appui.style.choose import choose
from appui.style.situation import Circumstances
from appui.style.table import load_style

KEYS = range(12)
#  I IV | V7 I in C major; root, third, fifth, seventh as played
CADENCE = ("C3 C4 E4 G4", "F3 C4 F4 A4", "G3 B3 F4 D4", "C3 C4 E4 G4")
MINOR = ("C3 C4 Eb4 G4", "F3 C4 F4 Ab4", "G3 B3 F4 D4", "C3 C4 Eb4 G4")


def judged(score):
    """Each sign with its verdict and the default style's reading."""
    harmony, style = analyse(score), load_style("harmony")
    for sign in find_signs(score):
        verdict = verdict_of(harmony, sign)
        yield sign, verdict, choose(score, sign, verdict, style, Circumstances(Fraction(60)))


@pytest.mark.parametrize("shift", KEYS)
def test_a_dissonance_that_steps_down_leans_in_every_major_key(little, major_up, shift) -> None:
    """F over C, B flat's place: a fourth resolving to the third leans, on the beat (common practice, no source)."""
    score = little(["E5", "A5", "D5", "F5>E5"], CADENCE, major_up[shift])
    ((_, verdict, choice),) = judged(score)
    assert (("dissonance",), (True,), "leaning 1/4") == (verdict.members, verdict.leans, choice.reading.text)


@pytest.mark.parametrize("shift", KEYS)
def test_a_dissonance_leans_in_every_minor_key(little, minor_up, shift) -> None:
    """The fourth over the minor tonic, stepping down (common practice, no source)."""
    ((_, verdict, _),) = judged(little(["Eb5", "Ab5", "D5", "F5>Eb5"], MINOR, minor_up[shift]))
    assert (("dissonance",), (True,)) == (verdict.members, verdict.leans)


@pytest.mark.parametrize("shift", KEYS)
def test_a_chord_member_passes_in_every_key(little, major_up, shift) -> None:
    """G before E over C has nothing to lean on: before the beat (common practice, no source)."""
    ((_, verdict, choice),) = judged(little(["E5", "A5", "D5", "G5>E5"], CADENCE, major_up[shift]))
    assert (("chord member",), (False,), "before") == (verdict.members, verdict.leans, choice.reading.text)


@pytest.mark.parametrize("shift", KEYS)
def test_the_seventh_of_the_dominant_is_a_member(little, major_up, shift) -> None:
    """F before D over G7 belongs to the chord."""
    ((_, verdict, _),) = judged(little(["E5", "A5", "F5>D5", "E5"], CADENCE, major_up[shift]))
    assert ("chord member",) == verdict.members


@pytest.mark.parametrize("shift", KEYS)
def test_roots_and_qualities_agree_with_music21(little, major_up, shift) -> None:
    """music21 names the same root and the same chord for the notes found (second opinion)."""
    score = little(["E5", "A5", "D5", "E5"], CADENCE, major_up[shift])
    harmony = analyse(score)
    for place, quality in ((0, "major"), (2, "major"), (4, "dominant seventh"), (6, "major")):
        named, _ = harmony.chord_at(Fraction(place))
        other = second_opinion.Chord([letter.replace("b", "-") for letter in named.letters])
        assert (other.root().pitchClass, quality) == (named.type.semitones[0] + _class(named.root), named.type.name)


def _class(letter: str) -> int:
    return int(parse_pitch(f"{letter}4").midi) % 12


@pytest.mark.parametrize("shift", KEYS)
def test_cadential_six_four_leans_although_it_spells_a_chord(little, major_up, shift) -> None:
    """Over C/G before G7 the small E, the sixth, leans into D (common practice, no source)."""
    score = little(
        ["E5", "A5", "E5>D5", "D5", "C5", "C5"],
        ("C3 C4 E4 G4", "F3 C4 F4 A4", "G2 G3 C4 E4", "G2 G3 B3 F4", "C3 C4 E4 G4", "C3 C4 E4 G4"),
        major_up[shift],
    )
    ((_, verdict, choice),) = judged(score)
    assert ((True,), "leaning") == (verdict.leans, choice.reading.name)


def test_a_six_four_over_a_tonic_pedal_is_not_the_cadential_one(little) -> None:
    """IV over the held tonic goes back to I: nothing cadential about it."""
    score = little(
        ["E5", "C6>A5", "E5", "D5", "C5", "C5"],
        ("C3 C4 E4 G4", "C3 C4 F4 A4", "C3 C4 E4 G4", "G2 G3 B3 F4", "C3 C4 E4 G4", "C3 C4 E4 G4"),
    )
    ((_, verdict, _),) = judged(score)
    assert (False, (False,)) == (verdict.six_four, verdict.leans)


def test_a_solo_alone_is_unknown(little) -> None:
    """With nothing to judge by there is no verdict and no confidence, and the style says which rule it fell back on."""
    ((_, verdict, choice),) = judged(little(["E5", "A5", "D5", "F5>E5"]))
    assert (("unknown",), (None,), 0.0) == (verdict.members, verdict.leans, verdict.confidence)
    assert choice.reason.startswith("no harmony to judge by")


def test_printed_chord_symbols_are_the_harmony(little) -> None:
    """Over a printed C major the small F is a dissonance although nothing else sounds."""
    symbol = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
    ((_, verdict, _),) = judged(little(["F5>E5", "E5"], extra=symbol))
    assert (("dissonance",), 1.0, "C") == (verdict.members, verdict.confidence, verdict.label)


def test_a_transposing_solo_is_judged_by_what_sounds(little) -> None:
    """A clarinet in B flat reads G5 before F sharp 5 and sounds F5 before E5."""
    transpose = "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    score = little(["E5", "G5>E5"], ("C3 C4 E4 G4", "C3 C4 E4 G4"), extra=transpose)
    ((_, verdict, _),) = judged(score)
    assert "F5 (written G5)" in verdict.words
    assert ("dissonance",) == verdict.members


def test_the_words_tell_the_evidence(little) -> None:
    """Who sounds, the position, the interval over the bass, where it goes."""
    ((_, verdict, _),) = judged(little(["E5", "A5", "D5", "F5>E5"], CADENCE))
    assert verdict.words == "F5 against C E G, root position: a fourth above the bass, steps down to E: dissonance"
    assert {"Piano"} == {one.part for one in verdict.evidence}
