"""Chord symbols: what their tones are, in every key and inversion, and what the patterns make of them."""

import re
from itertools import pairwise

import pytest

from appui.accompany.add import accompanied
from appui.accompany.numerals import parse_key, parse_numeral
from appui.accompany.patterns import PATTERNS
from appui.accompany.symbols import BASS, symbol_chords
from appui.accompany.voicing import faults, voice_chords
from appui.errors import UsageError
from appui.exact import Fraction
from appui.harmony.kinds import KINDS, parse_symbol, symbol_places, symbol_text
from appui.harmony.places import letter_place, place_of
from appui.harmony.printed import printed_at
from appui.harmony.roman import roman_of
from appui.harmony.spelling import NamedChord, letter_of
from appui.harmony.templates import TYPES
from appui.score.model import ChordSymbol

ROOTS = tuple(letter_of(place) for place in range(-6, 8))
#  music21's names where they differ from MusicXML's; the augmented sixths it has no symbols for
OTHER_NAMES = {
    "dominant": "dominant-seventh",
    "half-diminished": "half-diminished-seventh",
    "major-minor": "minor-major-seventh",
}
NOT_THERE = {"Italian", "French", "German", "Neapolitan", "dominant-13th", "major-13th", "minor-13th", "power"}
LONG = {"dominant-11th", "major-11th", "minor-11th"}


def names_of(letters) -> set[str]:
    """music21's letters as ours."""
    return {letter.replace("-", "b") for letter in letters}


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in NOT_THERE | LONG])
def test_kinds_are_spelled_as_music21_spells_them(kind) -> None:
    """Every kind on every root, and over each of its notes: music21's chord symbols have the same letters."""
    from music21.harmony import ChordSymbol as Other

    for root in ROOTS:
        own = [letter_of(place) for place in symbol_places(ChordSymbol(Fraction(0), root, kind))]
        other = Other(root=root.replace("b", "-"), kind=OTHER_NAMES.get(kind, kind))
        assert set(own) == names_of(p.name for p in other.pitches), (root, kind)
        for bass in own[1:3]:
            turned = Other(root=root.replace("b", "-"), bass=bass.replace("b", "-"), kind=OTHER_NAMES.get(kind, kind))
            assert bass == turned.bass().name.replace("-", "b")


@pytest.mark.parametrize("kind", [kind for kind, facts in KINDS.items() if facts.texts])
def test_what_is_written_is_read_again(kind) -> None:
    """Every spelling of a kind means it; the first is the one that is written."""
    for text in KINDS[kind].texts:
        found = parse_symbol(f"Bb{text}/D")
        assert found is not None
        assert ("Bb", kind, "D") == (found.root, found.kind, found.bass)
        assert f"Bb{KINDS[kind].texts[0]}/D" == symbol_text(found)


@pytest.mark.parametrize("kind", [kind for kind, facts in KINDS.items() if facts.texts])
def test_a_chart_uses_only_kinds_the_harmony_judges_by(page, symbolled, kind) -> None:
    """The harmony room spells each kind a chart can write as this room does."""
    score = symbolled(page({"Oboe": "C5:4"}), [(0, f"Eb{KINDS[kind].texts[0]}")])
    printed = printed_at(score, Fraction(0))
    assert printed is not None
    assert symbol_places(score.parts[0].chord_symbols[0]) == printed.fifths


@pytest.mark.parametrize("text", ["H7", "Cfoo", "c", "C//E", "C/H", "", "7"])
def test_what_is_no_symbol_is_refused(text) -> None:
    """Nothing is guessed from a slip."""
    assert parse_symbol(text) is None


def inverted(kind, root: int):
    """A chord of the harmony room on each of its notes."""
    for gap in kind.fifths:
        yield NamedChord(kind, tuple(root + g for g in kind.fifths), root + gap)


@pytest.mark.parametrize("kind", TYPES, ids=lambda kind: kind.name)
@pytest.mark.parametrize("minor", [False, True])
def test_numerals_written_are_read_again(kind, minor) -> None:
    """All inversions of all chords of all keys, and of the dominants of their degrees, lead back to the same notes.

    A seventh chord foreign to its key has a numeral that does not tell its seventh, so it is no matter for this.
    """
    scale = {0, 2, -3, -1, 1, -4, -2, 5} if minor else {0, 2, 4, -1, 1, 3, 5}
    wrong, seen = [], 0
    for tonic in range(-5, 7):
        for degree in range(-5, 7):
            for chord in inverted(kind, tonic + degree):
                text = roman_of(chord, tonic, minor=minor)
                inside = {fifth - tonic for fifth in chord.fifths} <= scale - ({5} if degree not in (1, 5) else {-2})
                if not inside and " of " not in text:
                    continue
                seen += 1
                symbol = parse_numeral(text, tonic, minor=minor)
                found = symbol and (set(symbol_places(symbol)), letter_place(symbol.bass or symbol.root))
                if found != (set(chord.fifths), chord.bass):
                    wrong.append((letter_of(tonic), text, chord.letters))
    assert [] == wrong
    assert seen >= 36


@pytest.mark.parametrize(
    "text",
    ["I", "I6", "I6/4", "ii", "ii6", "ii7", "ii6/5", "IV", "IV7", "V", "V7", "V6/5", "V4/3", "V4/2", "vi", "vii6"],
)
@pytest.mark.parametrize("key", ["C", "F", "G", "B-", "E", "A-"])
def test_numerals_sound_as_music21_has_them(text, key) -> None:
    """music21's Roman numerals have the same letters and the same bass, in major keys."""
    from music21.roman import RomanNumeral

    ours = text.replace("vii6", "viio6")
    other = RomanNumeral(ours.replace("/", ""), key)
    symbol = parse_numeral(ours, letter_place(key.replace("-", "b")), minor=False)
    assert symbol is not None
    assert names_of(p.name for p in other.pitches) == {letter_of(place) for place in symbol_places(symbol)}
    assert other.bass().name.replace("-", "b") == (symbol.bass or symbol.root)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("i", "C Eb G"),
        ("iv6", "F Ab C"),
        ("V7", "G B D F"),
        ("viio7", "B D F Ab"),
        ("iiø6/5", "D F Ab C"),
        ("bII6", "Db F Ab"),
        ("VI", "Ab C Eb"),
        ("III+", "Eb G B"),
        ("V7 of V", "D F# A C"),
        ("V/V", "D F# A"),
        ("viio7/V", "F# A C Eb"),
        ("Ger6", "Ab C Eb F#"),
        ("Ger6/5", "Ab C Eb F#"),
        ("Fr4/3", "Ab C D F#"),
        ("It6", "Ab C F#"),
    ],
)
def test_numerals_in_minor(text, wanted) -> None:
    """C minor, from any textbook (common practice)."""
    symbol = parse_numeral(text, 0, minor=True)
    assert symbol is not None
    assert set(wanted.split()) == {letter_of(place) for place in symbol_places(symbol)}


@pytest.mark.parametrize("text", ["V9/9", "VIII", "Iv", "V7 of", "Xx", "viio7 of Q"])
def test_what_is_no_numeral_is_refused(text) -> None:
    """Nothing is guessed."""
    assert parse_numeral(text, 0, minor=False) is None


@pytest.mark.parametrize(
    ("text", "key"), [("g minor", (1, True)), ("g", (1, True)), ("Eb", (-3, False)), ("H major", None)]
)
def test_keys_in_words(text, key) -> None:
    """A small letter alone is minor."""
    assert key == parse_key(text)


# patterns

SONG = "C5:4 | A4:4 | B4:4 | C5:4"
CHORDS = [(0, "C"), (4, "F/A"), (6, "Dm"), (8, "G7/B"), (10, "G7"), (12, "C")]


def added(score, pattern):
    """The added part."""
    return accompanied(score, pattern=pattern).parts[-1]


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("time", ["4/4", "3/4", "6/8", "2/4", "3/8", "9/8"])
def test_patterns_play_only_their_chord(page, symbolled, pattern, time) -> None:
    """In every meter each sounding note belongs to the symbol in force, and each hand fills its bars."""
    bar_q = Fraction(4 * int(time[0]), int(time[2]))
    score = symbolled(page({"Oboe": f"C5:{bar_q} | D5:{bar_q}"}, time=time), [(0, "C"), (bar_q, "G7/B")])
    part = added(score, pattern)
    for voice in part.voices:
        assert 2 * bar_q == sum(event.duration_q for event in voice.events)
        for event in voice.events:
            allowed = symbol_places(score.parts[0].chord_symbols[event.bar])
            assert {place_of(note.sounding) for note in event.notes} <= set(allowed)
    assert any(event.notes for event in part.voices[0].events)


@pytest.mark.parametrize(
    ("pattern", "strokes"),
    [("held", [0]), ("offbeats", [1, 2, 3]), ("alberti", [Fraction(n, 2) for n in range(8)])],
)
def test_where_the_right_hand_strikes(page, symbolled, pattern, strokes) -> None:
    """A bar of 4/4 in each pattern."""
    events = added(symbolled(page({"Oboe": "C5:4"}), [(0, "C")]), pattern).voices[0].events
    wanted = [1, 3] if pattern == "offbeats" else strokes
    assert wanted == [event.onset_q for event in events if event.notes]


def test_alberti_goes_low_high_middle_high(page, symbolled) -> None:
    """Common practice, no source."""
    events = added(symbolled(page({"Oboe": "C5:4"}), [(0, "C")]), "alberti").voices[0].events
    keys = [event.notes[0].sounding.midi for event in events[:4]]
    assert keys[0] < keys[2] < keys[1] == keys[3]


def test_symbols_are_voiced_without_faults(page, symbolled) -> None:
    """The chords of a plain song: no parallels, sevenths down, the bass in range and where the symbol has it."""
    score = symbolled(page({"Oboe": SONG}), CHORDS)
    chords = symbol_chords(score, score.parts[0].chord_symbols)
    assert [] == list(faults(chords, voice_chords(chords)))
    assert ["C", "A", "D", "B", "G", "C"] == [re.sub(r"\d", "", chord.bass.name) for chord in chords]
    assert all(BASS[0] <= chord.bass.midi <= BASS[1] for chord in chords)
    assert all(-8 <= a.bass.midi - b.bass.midi <= 8 for a, b in pairwise(chords))


def test_no_chord_is_silence(page, symbolled) -> None:
    """Under N.C. both hands rest."""
    part = added(symbolled(page({"Oboe": "C5:4 | D5:4"}), [(0, "C"), (4, "N.C.")]), "held")
    assert all(not event.notes for voice in part.voices for event in voice.events if event.bar == 1)


def test_symbols_of_a_transposing_part_sound_lower(page, symbolled) -> None:
    """A clarinet in B flat reads D; the accompaniment plays C, and the harmony room judges by C."""
    score = symbolled(page({"Clarinet": "D5:4"}, fifths=2, chromatic=(-1, -2)), [(0, "D")])
    made = accompanied(score)
    assert "C" == made.parts[0].chord_symbols[0].root
    assert {"C", "E", "G"} == {n.sounding.letter for v in made.parts[-1].voices for e in v.events for n in e.notes}
    assert 0 == made.parts[-1].key_at(Fraction(0)).fifths


def test_an_accompaniment_that_is_there_is_left_alone(page, symbolled) -> None:
    """A piano with chords needs no second one; a single bass line does."""
    piano = symbolled(page({"Oboe": "C5:4", "Piano": "C3+E3+G3:4"}), [(0, "C")])
    bass = symbolled(page({"Oboe": "C5:4", "Basso": "C3:4"}), [(0, "C")])
    assert (2, 3) == (len(accompanied(piano).parts), len(accompanied(bass).parts))


def test_nothing_is_added_twice(page, symbolled) -> None:
    """Asked again, a score stays as it is, symbols of transposing parts too."""
    made = accompanied(symbolled(page({"Clarinet": "D5:4"}, fifths=2, chromatic=(-1, -2)), [(0, "D")]))
    assert made == accompanied(made)


def test_a_part_that_would_be_silent_is_not_added(page, symbolled) -> None:
    """N.C. alone makes no accompaniment."""
    assert 1 == len(accompanied(symbolled(page({"Oboe": "C5:4"}), [(0, "N.C.")])).parts)


def test_a_score_without_harmony_stays_as_it_is(page) -> None:
    """Nothing to play from, nothing added."""
    score = page({"Oboe": "C5:4"})
    assert score == accompanied(score)


def test_what_is_added_is_said(page, symbolled) -> None:
    """The notice names the part and what it was made from."""
    made = accompanied(symbolled(page({"Oboe": "C5:4"}), [(0, "C")]), instrument="organ")
    assert ("part Organ (added)", "added from the chord symbols: each chord struck once and held") == made.notices[-1]


def test_an_unknown_pattern_is_refused(page) -> None:
    """The message lists what there is."""
    with pytest.raises(UsageError, match="there is no pattern 'x'; choose one of held, offbeats, alberti, arpeggio"):
        accompanied(page({"Oboe": "C5:4"}), pattern="x")


def test_an_unknown_instrument_is_refused(page) -> None:
    """The message lists what there is."""
    with pytest.raises(UsageError, match="there is no instrument 'x'; choose one of harpsichord"):
        accompanied(page({"Oboe": "C5:4"}), instrument="x")
