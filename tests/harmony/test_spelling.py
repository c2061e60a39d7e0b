"""Chords are spelled and numbered as a player reads them."""

import pytest
from music21 import chord as m21_chord
from music21 import interval as m21_interval
from music21 import key as m21_key
from music21 import pitch as m21_pitch
from music21 import roman as m21_roman

from appui.harmony.roman import roman_of
from appui.harmony.spelling import NamedChord, class_of, figure_of, interval_word, letter_of, name_chord
from appui.harmony.templates import CHORDS, TYPES
from appui.score.pitch import parse_pitch

C_MAJOR, C_MINOR = (0, False), (0, True)
PLACES = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


def place(letter: str) -> int:
    """A letter's place on the line of fifths."""
    return PLACES[letter[0]] + 7 * (letter.count("#") - letter[1:].count("b"))


def named(letters: str, kind: str, key=C_MAJOR, bass: str = "") -> NamedChord:
    """The chord of a kind on the first letter, spelled by the letters that sound."""
    fifths = [place(letter) for letter in letters.split()]
    chord = next(c for c in CHORDS if c.type.name == kind and c.root == class_of(fifths[0]))
    return name_chord(chord, fifths, place(bass or letters.split(maxsplit=1)[0]), key)


@pytest.mark.parametrize("fifth", range(-14, 20))
def test_letters_agree_with_music21(fifth) -> None:
    """The letter of a place on the line of fifths sounds as many fifths from C as its number."""
    other = m21_pitch.Pitch(letter_of(fifth).replace("b", "-"))
    assert (other.pitchClass, fifth % 7) == (class_of(fifth), place(letter_of(fifth)) % 7)


@pytest.mark.parametrize("kind", [kind.name for kind in TYPES])
def test_the_spelled_and_the_sounding_chord_agree(kind) -> None:
    """Each type's places on the line of fifths are its semitones, and it is built in thirds."""
    found = next(one for one in TYPES if one.name == kind)
    assert found.semitones == tuple(class_of(fifth) for fifth in found.fifths)
    letters = [(4 * fifth) % 7 for fifth in found.fifths]
    assert letters == [2 * i % 7 for i in range(len(letters))]


def test_a_diminished_seventh_is_spelled_as_printed() -> None:
    """The same four keys are B D F Ab in C minor and D F Ab Cb in E flat minor."""
    b = named("B D F Ab", "diminished seventh", C_MINOR)
    d = named("D F Ab Cb", "diminished seventh", (-3, True))
    assert (("B", "D", "F", "Ab"), ("D", "F", "Ab", "Cb")) == (b.letters, d.letters)


def test_what_is_not_printed_is_spelled_near_the_key() -> None:
    """With nothing to go by the chord of six semitones is G flat in D flat major and F sharp in B major."""
    chord = next(c for c in CHORDS if c.type.name == "major" and c.root == 6)
    assert ("Gb", "F#") == (name_chord(chord, (), None, (-5, False)).root, name_chord(chord, (), None, (5, False)).root)


def test_an_augmented_sixth_is_named_so() -> None:
    """Ab C Eb F# in C minor is a German sixth, without its fifth an Italian one; with Gb it is a dominant seventh."""
    german = named("Ab C Eb F#", "dominant seventh", C_MINOR)
    italian = named("Ab C F#", "dominant seventh", C_MINOR)
    dominant = named("Ab C Eb Gb", "dominant seventh", C_MINOR)
    assert ("Ab Ger6", "Ab It6", "Ab7") == (german.label, italian.label, dominant.label)
    assert ("Ger6", "It6") == (roman_of(german, 0, minor=True), roman_of(italian, 0, minor=True))


def test_the_keys_own_dominant_is_no_augmented_sixth() -> None:
    """G B D E# on the fifth degree of C is a slip of spelling, not a German sixth."""
    assert "G7" == named("G B D E#", "dominant seventh").label


@pytest.mark.parametrize(
    ("letters", "kind", "figures"),
    [
        ("C E G", "major", ("", "6", "6/4")),
        ("G B D F", "dominant seventh", ("7", "6/5", "4/3", "4/2")),
        ("B D F Ab", "diminished seventh", ("7", "6/5", "4/3", "4/2")),
        ("D F A C", "minor seventh", ("7", "6/5", "4/3", "4/2")),
        ("Ab C Eb F#", "dominant seventh", ("6/5", "4/3", "4/2", "7")),
    ],
)
def test_figures_of_each_inversion(letters, kind, figures) -> None:
    """Figured-bass shorthand (common practice, no source)."""
    found = tuple(figure_of(named(letters, kind, C_MINOR, bass)) for bass in letters.split())
    assert figures == found


def test_a_foreign_bass_has_no_figure_and_is_named() -> None:
    """C E G over D."""
    chord = named("C E G", "major", bass="D")
    assert ("", "C/D", "over D") == (figure_of(chord), chord.label, chord.position)


@pytest.mark.parametrize("minor", [False, True])
@pytest.mark.parametrize("tonic", ["C", "G", "D", "A", "E", "F", "Bb", "Eb"])
def test_degrees_of_the_keys_own_chords_agree_with_music21(tonic, minor) -> None:
    """Triads and sevenths on every degree carry music21's numeral.

    Minor is harmonic here; music21 writes #vii for the leading note's chord, we vii.
    """
    key = m21_key.Key(tonic.replace("b", "-"), "minor" if minor else "major")
    rows = MINOR_CHORDS if minor else MAJOR_CHORDS
    for gap, kind in rows:
        chord = next(c for c in CHORDS if c.type.name == kind and c.root == class_of(place(tonic) + gap))
        ours = name_chord(chord, [place(tonic) + gap + f for f in chord.type.fifths], place(tonic) + gap, (0, minor))
        theirs = m21_roman.romanNumeralFromChord(
            m21_chord.Chord([letter.replace("b", "-") for letter in ours.letters]), key
        )
        assert theirs.romanNumeral.lstrip("#") == roman_of(ours, place(tonic), minor=minor).strip("o7ø")


#  fifths from the tonic to the root, type
MAJOR_CHORDS = (
    (0, "major"), (2, "minor"), (4, "minor"), (-1, "major"), (1, "major"), (3, "minor"), (5, "diminished"),
    (1, "dominant seventh"), (2, "minor seventh"), (0, "major seventh"), (5, "half-diminished"),
)  # fmt: skip
MINOR_CHORDS = (
    (0, "minor"), (2, "diminished"), (-3, "major"), (-1, "minor"), (1, "major"), (-4, "major"), (5, "diminished"),
    (1, "dominant seventh"), (2, "half-diminished"), (5, "diminished seventh"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("letters", "kind", "key", "numeral"),
    [
        ("D F# A C", "dominant seventh", C_MAJOR, "V7 of V"),
        ("D F# A", "major", C_MAJOR, "V of V"),
        ("C E G Bb", "dominant seventh", C_MAJOR, "V7 of IV"),
        ("E G# B D", "dominant seventh", C_MAJOR, "V7 of vi"),
        ("F# A C Eb", "diminished seventh", C_MAJOR, "viio7 of V"),
        ("C# E G Bb", "diminished seventh", C_MAJOR, "viio7 of ii"),
        ("Bb D F Ab", "dominant seventh", C_MINOR, "V7 of III"),
        ("C E G Bb", "dominant seventh", C_MINOR, "V7 of iv"),
        ("Db F Ab", "major", C_MINOR, "bII"),
        ("F Ab C", "minor", C_MAJOR, "iv"),
        ("Ab C Eb", "major", C_MAJOR, "bVI"),
        ("B D F Ab", "diminished seventh", C_MAJOR, "viio7"),
    ],
)
def test_chords_foreign_to_the_key(letters, kind, key, numeral) -> None:
    """Dominants of other degrees by what they lead to, the rest by altered degree (common practice, no source)."""
    assert numeral == roman_of(named(letters, kind, key), key[0], minor=key[1])


def test_the_neapolitan_sixth() -> None:
    """D flat major over F in C minor."""
    assert "bII6" == roman_of(named("Db F Ab", "major", C_MINOR, "F"), 0, minor=True)


@pytest.mark.parametrize("upper", ["C5", "D5", "Eb5", "F5", "F#5", "G5", "Ab5", "B5", "C6", "D6"])
def test_intervals_are_music21s(upper) -> None:
    """The word for an interval is the number music21 gives it, without octaves."""
    words = ("an octave", "a second", "a third", "a fourth", "a fifth", "a sixth", "a seventh")
    low, high = m21_pitch.Pitch("C4"), m21_pitch.Pitch(upper.replace("b", "-"))
    simple = m21_interval.Interval(low, high).generic.mod7
    assert words[simple - 1] == interval_word(parse_pitch(upper), parse_pitch("C4"))
