"""Wishes from words: ladders, levels, intervals, and what cannot be meant."""

from __future__ import annotations

import math

import pytest

from appui.errors import UsageError
from appui.practice.drone import drone_pitch
from appui.practice.interval import parse_interval
from appui.practice.levels import balance, midi_pan, midi_volume, parse_levels
from appui.practice.words import file_name, split_by_name, tempos_of, wish_of
from appui.score.pitch import Transposition


def test_a_ladder_of_six_steps() -> None:
    """Both ends are on it, the steps are equal."""
    assert ("50%", "60%", "70%", "80%", "90%", "100%") == tempos_of(["50%..100%"])
    assert ("60", "78", "96", "120") == tempos_of(["60..96", "120"], 3)
    assert ("100%",) == tempos_of([])


@pytest.mark.parametrize("word", ["50%..100", "..100%", "a..b", "80%..80%"])
def test_no_ladder_is_refused(word: str) -> None:
    """Both ends of one kind, and apart."""
    with pytest.raises(UsageError, match=r"tempo '.*' (is no ladder such as|ends where it begins)"):
        tempos_of([word])


def test_levels_and_sides() -> None:
    """Off is silence; 12 dB down is half the MIDI volume (40 log10); sides are gains."""
    assert {"solo": -12.0, "click": -math.inf} == parse_levels("solo=-12,click=off")
    assert (50, 0, 127) == (midi_volume(100, -12.04), midi_volume(100, -math.inf), midi_volume(100, 12))
    assert ((1, 0), (0, 1), (1, 1)) == (balance("solo", 100), balance("accompaniment", 100), balance("click", 100))
    assert (0, 127, 64) == (midi_pan("solo", 100), midi_pan("accompaniment", 100), midi_pan("drone", 100))


@pytest.mark.parametrize("text", ["solo", "solo=loud", "solo=40", "=-3"])
def test_a_level_that_is_none_is_refused(text: str) -> None:
    """Group and dB."""
    with pytest.raises(UsageError, match=r"levels '.*': '.*' (is n|has no name)"):
        parse_levels(text)


def test_intervals() -> None:
    """By name or in semitones, up and down."""
    assert Transposition(-2, -3) == parse_interval("-m3") == parse_interval("-3")
    assert Transposition(7, 12) == parse_interval("P8")
    with pytest.raises(UsageError, match=r"transpose 'M9' is no interval; name one such as M2, -m3 or P8"):
        parse_interval("M9")


@pytest.mark.parametrize(
    ("degree", "key", "expected"),
    [
        ("1", "0 major", "C3"),
        ("5", "2 major", "A3"),
        ("1", "-3 minor", "C3"),
        ("3", "-3 minor", "Eb3"),
        ("7", "1 major", "F#3"),
    ],
)
def test_the_drone_s_degree(degree: str, key: str, expected: str) -> None:
    """As the signature has it."""
    assert expected == drone_pitch(degree, key).name


def test_a_name_with_tempo_makes_a_file_for_each() -> None:
    """And one without stays one track."""
    wish = wish_of({"tempo": ["50%", "100%"], "bars": "1-4"})
    assert ["1-4 at 50 percent", "1-4 at 100 percent"] == [name for name, _ in split_by_name("{bars} at {tempo}", wish)]
    assert [("all", wish)] == split_by_name("all", wish)
    with pytest.raises(
        UsageError,
        match=r"may hold \{tempo\}, \{bars\}, \{mode\}, \{movement\}, \{place\} and \{without\}, no other braces",
    ):
        file_name("{key}", wish)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"mode": "loud"}, "mode 'loud' is none of along, guide, echo, alternate"),
        ({"times": 0}, "times 0 is outside 1 to 200"),
        ({"times": True}, "times = True: expected a whole number"),
        ({"count-in": 9}, "count-in 9 is outside 0 to 8"),
        ({"pan": 101}, "pan 101 is not a spread from 0"),
        ({"drone": "8"}, "drone '8' is neither a degree"),
        ({"key-note": "D"}, "a key note needs a tuning"),
        ({"speed": 3}, "a practice track knows no 'speed'; it knows mode, movement, at, without, bars"),
        ({"pitch": 100.0}, "pitch 100.0 is not A4 in Hz from 380 to 480"),
    ],
)
def test_what_cannot_be_meant(words, message: str) -> None:
    """One sentence, with the bounds."""
    with pytest.raises(UsageError, match=message):
        wish_of(words)
