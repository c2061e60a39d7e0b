"""The head of an ABC piece: keys against music21, meters, units, tempos, titles, composers."""

from __future__ import annotations

import pytest
from music21 import key as m21_key

from appui.abc.fields import parse_key
from appui.abc.place import Cursor
from appui.exact import Fraction
from appui.score.model import Meter
from tests.abc.abc_text import music, piece

Q = Fraction
MODES = {
    "": "ionian", "maj": "ionian", "ion": "ionian", "m": "aeolian", "min": "aeolian", "aeo": "aeolian", "dor": "dorian",
    "phr": "phrygian", "lyd": "lydian", "mix": "mixolydian", "loc": "locrian", " Dorian": "dorian", "MIX": "mixolydian",
}  # fmt: skip


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("tonic", ["C", "G", "D", "A", "E", "F", "Bb", "Eb", "Ab", "F#"])
def test_keys_have_the_signs_music21_gives_them(tonic: str, mode: str) -> None:
    """Every mode on every usual tonic (second opinion)."""
    signature, _ = parse_key(Cursor("x.abc", 1, ""), tonic + mode)
    assert signature is not None
    assert m21_key.Key(tonic.replace("b", "-"), MODES[mode]).sharps == signature.fifths


@pytest.mark.parametrize(
    ("key", "altered"),
    [
        ("D ^g", {"F": 1, "C": 1, "G": 1}),
        ("Dmix=c", {"F": 1}),
        ("G =f", {}),
        ("D exp _b _e", {"B": -1, "E": -1}),
        ("none", {}),
        ("HP", {"F": 1, "C": 1}),
        ("Gm clef=treble-8", {"B": -1, "E": -1}),
        ("Bb treble", {"B": -1, "E": -1}),
    ],
)
def test_keys_with_signs_of_their_own(key: str, altered: dict[str, int]) -> None:
    """Added, taken away, or nothing but these."""
    signature, _ = parse_key(Cursor("x.abc", 1, ""), key)
    assert signature is not None
    assert altered == signature.alters


@pytest.mark.parametrize(
    ("field", "meter"),
    [
        ("C", Meter(4, 4, "common")),
        ("C|", Meter(2, 2, "cut")),
        ("6/8", Meter(6, 8)),
        ("(2+3)/8", Meter(5, 8)),
        ("3 / 4", Meter(3, 4)),
    ],
)
def test_meters(field: str, meter: Meter) -> None:
    """As they are typed."""
    assert meter == piece(f"X:1\nM:{field}\nK:C\nc\n").bars[0].meter


def test_free_time_has_bars_of_any_length() -> None:
    """And none of them is odd."""
    found = piece("X:1\nM:none\nL:1/4\nK:C\nc | c3 | c2 |]\n")
    assert [Q(1), Q(3), Q(2)] == [bar.length_q for bar in found.bars]
    assert not any("check it" in notice.text for notice in found.notices)


@pytest.mark.parametrize(("meter", "length_q"), [("2/4", Q(1, 4)), ("3/4", Q(1, 2)), ("C", Q(1, 2)), ("6/8", Q(1, 2))])
def test_the_unit_goes_by_the_meter_where_none_is_said(meter: str, length_q: Fraction) -> None:
    """A sixteenth in meters shorter than three quarters, else an eighth."""
    assert length_q == piece(f"X:1\nM:{meter}\nK:C\nc\n").parts[0].voices[0].events[0].duration_q


@pytest.mark.parametrize(
    ("field", "qpm", "words"),
    [
        ("1/4=60", 60, ""),
        ("3/8=40", 60, ""),
        ('"Adagio" 1/8=80', 40, "Adagio"),
        ('1/2=50 "Allegro"', 100, "Allegro"),
        ("1/4 1/8=40", 60, ""),
        ("120", 60, ""),
        ("C=120", 60, ""),
    ],
)
def test_tempos(field: str, qpm: int, words: str) -> None:
    """Beats of any length, added up; a bare number counts units."""
    [mark] = piece(f"X:1\nL:1/8\nQ:{field}\nK:C\nc\n").tempos
    assert qpm == mark.qpm
    assert ("metronome", words) == (mark.origin, mark.words)


def test_a_tempo_in_words_is_assumed() -> None:
    """As in every notation."""
    [mark] = piece('X:1\nQ:"Adagio"\nK:C\nc\n').tempos
    assert 56 == mark.qpm
    assert "assumed" == mark.origin


def test_title_and_composer() -> None:
    """The first title; every composer line, whose years tell the time."""
    found = piece("X:1\nT:One\nT:Two\nC:N. N. (1720-1780)\nK:C\nc\n")
    assert ("One", (("composer", "N. N. (1720-1780)"),)) == (found.title, found.creators)


def test_a_piece_of_one_voice_is_a_solo() -> None:
    """Its places can be said."""
    assert "Solo" == music("c").parts[0].name
