"""Pitch and temperament, in cents, in MIDI bytes and in rendered sound.

Cents and beats are held against a table computed apart from this code (calculated from recipes from memory; two of the
temperaments agree with stored public tables within 0.05 cents). MIDI words: MIDI Tuning Standard (read).
"""

from __future__ import annotations

import io
from pathlib import Path

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import SoundError, UsageError
from appui.perform.model import Performance
from appui.sound.midi import midi_bytes
from appui.sound.tuning import (
    TEMPERAMENTS,
    cents_of,
    channel_controls,
    fifths_of,
    make_tuning,
    octave_message,
    pitch_hz,
    read_cents,
    shift_cents,
)
from tests.sound.ruler import cents, hz_of, measured_hz
from tests.sound.tone_font import exact_hz, write_tone_font

RATE = 44_100
#   name                C  C#       D        Eb       E        F        F#       G        G#       A        Bb       B
PUBLISHED = {
    "quarter-comma": "0 76.049 193.157 310.265 386.314 503.422 579.471 696.578 772.627 889.735 1006.843 1082.892",
    "sixth-comma": "0 88.594 196.741 304.888 393.482 501.629 590.224 698.371 786.965 895.112 1003.259 1091.853",
    "werckmeister-3": "0 90.225 192.180 294.135 390.225 498.045 588.270 696.090 792.180 888.270 996.090 1092.180",
    "kirnberger-3": "0 90.225 193.157 294.135 386.314 498.045 590.224 696.578 792.180 889.735 996.090 1088.269",
    "vallotti": "0 94.135 196.090 298.045 392.180 501.955 592.180 698.045 796.090 894.135 1000.000 1090.225",
    "young-2": "0 90.225 196.090 294.135 392.180 498.045 588.270 698.045 792.180 894.135 996.090 1090.225",
    "young-1": "0 93.890 195.845 297.800 391.690 499.878 591.935 697.923 795.845 893.768 999.755 1091.813",
    "just": "0 111.731 203.910 315.641 386.314 498.045 590.224 701.955 813.686 884.359 1017.596 1088.269",
    "pythagorean": "0 113.685 203.910 294.135 407.820 498.045 611.730 701.955 815.640 905.865 996.090 1109.775",
    "equal": "0 100 200 300 400 500 600 700 800 900 1000 1100",
}
#  beats a second of C4-G4 |3C - 2G| and C4-E4 |5C - 4E| at A4 = 440 Hz (calculated)
BEATS = {
    "equal": (0.886, 10.382),
    "quarter-comma": (2.448, 0),
    "werckmeister-3": (2.673, 2.979),
    "kirnberger-3": (2.448, 0),
    "vallotti": (1.777, 4.455),
    "young-2": (1.777, 4.455),
    "young-1": (1.833, 4.084),
    "just": (0, 0),
}


@pytest.fixture(scope="session")
def font(tmp_path_factory) -> Path:
    """The plain tone."""
    return write_tone_font(tmp_path_factory.mktemp("font") / "tone.sf2")


@pytest.fixture
def sounding_hz(part, samples, font):
    """The measured frequencies of keys under a tuning, all parts of their own, the last of so many."""

    def measure(tuning, keys, before: int = 0) -> list[float]:
        found = []
        for key in keys:
            parts = (*(part([], 0) for _ in range(before)), part([(0, 4, key, 100)], 0))
            sound = samples(_performance(parts, tuning), soundfont=font)
            found.append(measured_hz(sound[RATE // 2 : 7 * RATE // 2, 0], hz_of(tuning, key)))
        return found

    return measure


def _performance(parts, tuning) -> Performance:
    from appui.exact import Fraction
    from appui.perform.model import TempoStep

    steps = (TempoStep(Fraction(0), 0.0, Fraction(60)),)
    return Performance("", tuple(parts), steps, (), Fraction(4), 4.0, tuning=tuning)


@pytest.mark.parametrize("name", TEMPERAMENTS)
def test_the_recipe_gives_the_cents(name: str) -> None:
    """Each of the twelve, to a thousandth, and the fifths close at 8400."""
    assert [float(c) for c in PUBLISHED[name].split()] == pytest.approx(list(cents_of(name)), abs=6e-4)
    assert 8400 == pytest.approx(sum(fifths_of(name)))


def test_the_wolf() -> None:
    """Quarter-comma meantone's fifth G#-Eb is 737.637 cents (calculated), all others 696.578."""
    fifths = fifths_of("quarter-comma")
    assert 737.637 == pytest.approx(fifths[8], abs=6e-4)
    assert [696.578] * 11 == pytest.approx([*fifths[:8], *fifths[9:]], abs=6e-4)


def test_a_key_note_moves_the_recipe() -> None:
    """Young's second temperament is Vallotti's a fifth higher (memory), and A keeps its pitch."""
    moved = make_tuning(440, "vallotti", "G")
    assert list(make_tuning(440, "young-2").offsets_cents) == pytest.approx(list(moved.offsets_cents), abs=1e-6)
    assert 0 == moved.offsets_cents[9]


def test_just_in_a_key_is_pure_there() -> None:
    """In D the chord D F# A has 5/4 and 3/2."""
    tuning = make_tuning(415, "just", "D")
    d, f_sharp, a = (hz_of(tuning, key) for key in (62, 66, 69))
    assert (1.25, 1.5, 415) == pytest.approx((f_sharp / d, a / d, a))


def test_four_hundred_and_fifteen() -> None:
    """-101.27 cents from 440 (calculated): 1.27 more than a semitone, which is 415.305 Hz."""
    assert -101.27 == round(shift_cents(415), 2)
    assert -100 == pytest.approx(shift_cents(415.3047))


# MIDI


def test_the_octave_message_of_werckmeister() -> None:
    """33 bytes with F0 and F7, all channels 03 7F 7F, the words of CA-021 (read; calculated)."""
    message = octave_message(make_tuning(440, "werckmeister-3"), range(16))
    words = "4741 4120 4240 4360 4120 4621 4000 4501 4240 4000 4501 4240"
    assert bytes.fromhex("7F7F0809 037F7F" + words) == message
    assert 33 == len(message) + 2


@pytest.mark.parametrize(
    ("channel", "mask"), [(0, "000001"), (6, "000040"), (7, "000100"), (14, "010000"), (15, "020000")]
)
def test_the_bits_of_a_channel(channel: int, mask: str) -> None:
    """Channels 1-7, 8-14 and 15-16 lie in three bytes, the last first (read)."""
    assert bytes.fromhex(mask) == octave_message(make_tuning(), [channel])[4:7]


@given(st.floats(380, 480))
def test_coarse_and_fine_make_the_shift(hz: float) -> None:
    """RPN 2 in semitones from 64, RPN 1 in 1/8192 of 100 cents from 2000 hex (read), within half a step."""
    values = [value for number, value in channel_controls(make_tuning(hz)) if number in (6, 38)]
    coarse, _, high, low = values
    cents = 100 * (coarse - 64) + ((high << 7 | low) - 0x2000) / 0x2000 * 100
    assert shift_cents(hz) == pytest.approx(cents, abs=0.0062)


def test_the_midi_file_carries_the_tuning(part, piece) -> None:
    """Before the first note, on the part's own channel; the clicks are not tuned."""
    from dataclasses import replace

    whole = piece(part([(0, 1, 60, 90)]), part([(0, 1, 76, 90)], percussion=True))
    tuning = make_tuning(415, "vallotti")
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(replace(whole, tuning=tuning))))
    kinds = [[m.type for m in track if not m.is_meta] for track in file.tracks]
    assert "sysex" in kinds[1][: kinds[1].index("note_on")]
    assert "sysex" not in kinds[2]
    message = next(m for m in file.tracks[1] if m.type == "sysex")
    assert octave_message(tuning, [0]) == bytes(message.data)
    assert list(channel_controls(tuning)) == [
        (m.control, m.value) for m in file.tracks[1] if m.type == "control_change" and m.control not in (7, 10)
    ]


# what is heard


def test_the_tone_is_what_it_claims(sounding_hz) -> None:
    """Untuned, within 0.02 cents: the ruler is straight."""
    tuning = make_tuning()
    found = sounding_hz(tuning, (60, 69))
    assert [0, 0] == pytest.approx([cents(f, exact_hz(k)) for f, k in zip(found, (60, 69), strict=True)], abs=0.02)


@pytest.mark.parametrize("name", TEMPERAMENTS)
def test_twelve_notes_sound_in_tune(sounding_hz, name: str) -> None:
    """Every pitch class at 415 Hz within 0.6 cents of the recipe: FluidSynth sounds whole cents."""
    tuning = make_tuning(415, name)
    keys = range(60, 72)
    off = [cents(f, hz_of(tuning, key)) for f, key in zip(sounding_hz(tuning, keys), keys, strict=True)]
    own = cents(exact_hz(69), 440)
    assert [own] * 12 == pytest.approx(off, abs=0.55)


@pytest.mark.parametrize("name", BEATS)
def test_the_beats_are_found_again(sounding_hz, name: str) -> None:
    """C4-G4 and C4-E4 at 440 Hz, beats a second as calculated, to what one cent between the two makes (0.45, 0.76)."""
    c, e, g = sounding_hz(make_tuning(440, name), (60, 64, 67))
    fifth, third = BEATS[name]
    assert fifth == pytest.approx(abs(3 * c - 2 * g), abs=0.45)
    assert third == pytest.approx(abs(5 * c - 4 * e), abs=0.76)


@pytest.mark.parametrize("hz", [380, 392, 430, 466, 480])
def test_pitch_levels_are_heard(sounding_hz, hz: float) -> None:
    """A4 within 0.6 cents."""
    assert 0 == pytest.approx(cents(sounding_hz(make_tuning(hz), [69])[0], hz), abs=0.6)


def test_the_twentieth_part_is_tuned_too(sounding_hz) -> None:
    """MIDI messages reach sixteen channels; the others are tuned alike."""
    tuning = make_tuning(415, "quarter-comma")
    assert 0 == pytest.approx(cents(sounding_hz(tuning, [68], before=19)[0], hz_of(tuning, 68)), abs=0.6)


# what cannot be meant


def test_an_unknown_tuning_is_refused() -> None:
    """With the names there are."""
    with pytest.raises(UsageError, match=r"tuning 'meen' is none of equal, .*, nor a file of twelve cents"):
        make_tuning(440, "meen")


@pytest.mark.parametrize("text", ["379.9", "481", "nan", "la"])
def test_a_pitch_out_of_range_is_refused(text: str) -> None:
    """380 to 480 Hz."""
    with pytest.raises(UsageError, match=rf"pitch {text} is not A4 in Hz from 380 to 480; usual levels are 392, 415"):
        pitch_hz(text)


def test_a_key_note_that_is_none_is_refused() -> None:
    """H is no letter here."""
    with pytest.raises(UsageError, match=r"key note 'H' is no note; name one such as C, F# or Bb"):
        make_tuning(440, "just", "H")


def test_a_file_of_twelve_cents(tmp_path) -> None:
    """One a line, comments passed over: the same as the recipe."""
    file = tmp_path / "own.txt"
    file.write_text("# ours\n" + "\n".join(f"{c}  # {i}" for i, c in enumerate(PUBLISHED["vallotti"].split())))
    own, known = make_tuning(430, str(file)), make_tuning(430, "vallotti")
    assert list(known.offsets_cents) == pytest.approx(list(own.offsets_cents), abs=2e-3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0\n" * 11, r"own\.txt: holds 11 cents, not twelve\. Remedy: write twelve lines"),
        (
            "0\n" * 11 + "C sharp",
            r"own\.txt, line 12: 'C sharp' is no number of cents\. Remedy: write one number a line",
        ),
        ("0\n100\n200\n300\n400\n500\n720\n" + "0\n" * 5, r"own\.txt: puts C -300.* Remedy: keep within 100"),
    ],
)
def test_a_file_that_does_not_hold_them_is_refused(tmp_path, text: str, words: str) -> None:
    """Which line, and what to write."""
    file = tmp_path / "own.txt"
    file.write_text(text)
    with pytest.raises(SoundError, match=words):
        make_tuning(440, str(file))


def test_a_missing_file_of_cents_is_refused(tmp_path) -> None:
    """By name."""
    with pytest.raises(SoundError, match=r"gone\.txt: there is no such file of cents\. Remedy: check the path"):
        read_cents(tmp_path / "gone.txt")
