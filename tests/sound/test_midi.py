"""MIDI files, against the worked examples of the format and two independent readers, mido and pretty_midi."""

from __future__ import annotations

import io
import warnings
from typing import Any

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.interpret.realizing import LONGEST_Q
from appui.perform.model import Mark
from appui.sound.midi import PPQ, midi_bytes, tempo_bytes, tick, variable_length, write_midi

# Standard MIDI File 1.0, the worked example in format 0 and in format 1 (read)
FORMAT_0 = """
4D 54 68 64 00 00 00 06 00 00 00 01 00 60
4D 54 72 6B 00 00 00 3B
00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20  00 C0 05  00 C1 2E  00 C2 46
00 92 30 60  00 3C 60  60 91 43 40  60 90 4C 20  81 40 82 30 40  00 3C 40
00 81 43 40  00 80 4C 40  00 FF 2F 00"""
FORMAT_1 = """
4D 54 68 64 00 00 00 06 00 01 00 04 00 60
4D 54 72 6B 00 00 00 14 00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20 83 00 FF 2F 00
4D 54 72 6B 00 00 00 10 00 C0 05 81 40 90 4C 20 81 40 4C 00 00 FF 2F 00
4D 54 72 6B 00 00 00 0F 00 C1 2E 60 91 43 40 82 20 43 00 00 FF 2F 00
4D 54 72 6B 00 00 00 15 00 C2 46 00 92 30 60 00 3C 60 83 00 30 00 00 3C 00 00 FF 2F 00"""
# what the example means (read): program, key, velocity, start and stop in quarters
EXAMPLE = {(0x46, 48, 96, 0, 4), (0x46, 60, 96, 0, 4), (0x2E, 67, 64, 1, 4), (0x05, 76, 32, 2, 4)}


def parsed(data: bytes) -> mido.MidiFile:
    """Bytes as mido reads them."""
    return mido.MidiFile(file=io.BytesIO(data), charset="utf-8")


def timed(track: Any) -> list[tuple[int, Any]]:
    """A track's messages with their absolute ticks."""
    now, result = 0, []
    for message in track:
        now += message.time
        result.append((now, message))
    return result


def sounding(file: mido.MidiFile) -> set[tuple[int, int, int, int, int]]:
    """(program, key, velocity, start tick, stop tick) of every note, read track by track."""
    notes, programs = set(), {}
    for track in file.tracks:
        on: dict[tuple[int, int], tuple[int, int]] = {}
        for now, message in timed(track):
            if message.type == "program_change":
                programs[message.channel] = message.program
            elif message.type == "note_on" and message.velocity:
                assert (message.channel, message.note) not in on
                on[message.channel, message.note] = now, message.velocity
            elif message.type in ("note_on", "note_off"):
                start, velocity = on.pop((message.channel, message.note))
                notes.add((programs[message.channel], message.note, velocity, start, now))
        assert {} == on
    return notes


def bodies(data: bytes, kind: str) -> list[tuple[int, Any]]:
    """Messages of one kind in all tracks."""
    return [pair for track in parsed(data).tracks for pair in timed(track) if pair[1].type == kind]


@pytest.fixture
def example(part, piece):
    """The worked example as a performance."""
    return piece(
        part([(2, 2, 76, 32)], 0x05),
        part([(1, 3, 67, 64)], 0x2E),
        part([(0, 4, 48, 96), (0, 4, 60, 96)], 0x46),
        qpm=120,
    )


@pytest.mark.parametrize(("text", "length"), [(FORMAT_0, 81), (FORMAT_1, 118)])
def test_the_worked_examples_mean_what_the_standard_says(text: str, length: int) -> None:
    """The printed bytes have the printed lengths, and mean the same music (a check of the checker)."""
    data = bytes.fromhex(text)
    assert length == len(data)
    assert {(p, k, v, a * 96, b * 96) for p, k, v, a, b in EXAMPLE} == sounding(parsed(data))


def test_our_bytes_say_the_worked_example(example) -> None:
    """The same music through us gives the same notes, ten times as fine, and the same tempo bytes."""
    data = midi_bytes(example)
    assert {(p, k, v, a * PPQ, b * PPQ) for p, k, v, a, b in EXAMPLE} == sounding(parsed(data))
    assert bytes.fromhex("00 FF 51 03 07 A1 20") in data
    assert 2.0 == pytest.approx(parsed(data).length)


def test_pretty_midi_reads_the_worked_example_in_seconds(example) -> None:
    """A second reader finds the notes at the seconds the standard states: all end at 2.000 s."""
    with warnings.catch_warnings():
        # pretty_midi asks setuptools for its resources in a way setuptools no longer likes
        warnings.filterwarnings("ignore", message=".*pkg_resources.*")
        import pretty_midi
    read = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(example)))
    found = {
        (instrument.program, note.pitch, note.velocity, note.start, note.end)
        for instrument in read.instruments
        for note in instrument.notes
    }
    assert {(p, k, v, a / 2, b / 2) for p, k, v, a, b in EXAMPLE} == found


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (0x00, "00"),
        (0x40, "40"),
        (0x7F, "7f"),
        (0x80, "81 00"),
        (0x2000, "c0 00"),
        (0x3FFF, "ff 7f"),
        (0x4000, "81 80 00"),
        (0x100000, "c0 80 00"),
        (0x1FFFFF, "ff ff 7f"),
        (0x200000, "81 80 80 00"),
        (0x8000000, "c0 80 80 00"),
        (0xFFFFFFF, "ff ff ff 7f"),
    ],
)
def test_variable_length_numbers(number: int, expected: str) -> None:
    """The table of the standard (Standard MIDI File 1.0, read)."""
    assert expected == variable_length(number).hex(" ")


@pytest.mark.parametrize("number", [-1, 0x10000000])
def test_a_number_beyond_the_largest_is_refused(number: int) -> None:
    """0FFFFFFF is the largest allowed (read)."""
    with pytest.raises(ValueError, match="does not fit a variable-length number"):
        variable_length(number)


@pytest.mark.parametrize(
    ("qpm", "expected"), [(120, "07 a1 20"), (60, "0f 42 40"), (90, "0a 2c 2b"), (72, "0c b7 35"), (1, "ff ff ff")]
)
def test_tempo_bytes(qpm: int, expected: str) -> None:
    """Microseconds a quarter note in three bytes, calculated; the slowest there is stands for all slower."""
    assert expected == tempo_bytes(Fraction(qpm)).hex(" ")


@pytest.mark.parametrize(
    ("kind", "text", "expected"),
    [
        ("meter", "4/4", "FF 58 04 04 02 18 08"),  # read
        ("meter", "6/8", "FF 58 04 06 03 24 08"),  # read
        ("meter", "3/8", "FF 58 04 03 03 0C 08"),
        ("meter", "2/2", "FF 58 04 02 01 30 08"),
        ("key", "-3 minor", "FF 59 02 FD 01"),
        ("key", "2 major", "FF 59 02 02 00"),
        ("bar", "12a", "FF 06 03 31 32 61"),
        ("sign", "oboe.1.1 before", "FF 07 0F" + b"oboe.1.1 before".hex()),
    ],
)
def test_marks(kind: str, text: str, expected: str, piece) -> None:
    """Meter, key, bar marker and cue point, as the standard lays them out (read)."""
    assert bytes.fromhex(expected) in midi_bytes(piece(marks=[Mark(Fraction(1), kind, text)]))


@pytest.mark.parametrize(("kind", "text"), [("meter", "4/3"), ("meter", "256/4"), ("key", "8 major")])
def test_marks_that_midi_cannot_say_are_left_out(kind: str, text: str, piece) -> None:
    """A meter over 3 or a key of eight sharps has no bytes."""
    assert midi_bytes(piece()) == midi_bytes(piece(marks=[Mark(Fraction(0), kind, text)]))


def test_the_file_is_format_1_at_960(example) -> None:
    """A conductor track and one named track a part."""
    read = parsed(midi_bytes(example))
    assert (1, 960, ["Étude", "Flute", "Flute", "Flute"]) == (
        read.type,
        read.ticks_per_beat,
        [track.name for track in read.tracks],
    )


def test_program_volume_and_pan_come_first(part, piece) -> None:
    """Before the first note the channel is set up."""
    data = midi_bytes(piece(part([(0, 1, 60, 90)], 68, volume=90, pan=40)))
    kinds = [(m.type, getattr(m, "control", None), getattr(m, "value", None)) for m in parsed(data).tracks[1]]
    assert [
        ("track_name", None, None),
        ("program_change", None, None),
        ("control_change", 7, 90),
        ("control_change", 10, 40),
        ("note_on", None, None),
    ] == kinds[:5]


@pytest.mark.parametrize(("pan", "dry"), [(0, True), (127, True), (64, False), (1, False)])
def test_a_part_on_one_side_has_no_room(part, piece, pan, dry) -> None:
    """Reverb and chorus (CC 91, 93) answer on both sides: off where a part is to be heard on one."""
    data = midi_bytes(piece(part([(0, 1, 60, 90)], 68, pan=pan)))
    assert dry == (bytes((0xB0, 91, 0)) in data) == (bytes((0, 0xB0, 93, 0)) in data)


def test_a_repeated_note_ends_before_it_starts_again(part, piece) -> None:
    """Note-off stands before note-on at one tick."""
    track = parsed(midi_bytes(piece(part([(0, 1, 60, 90), (1, 1, 60, 80)])))).tracks[1]
    at_one = [message.type for now, message in timed(track) if now == PPQ]
    assert ["note_off", "note_on"] == at_one


def test_an_instant_still_sounds(part, piece) -> None:
    """No note has zero length: a reader would hang it."""
    assert {(73, 60, 90, 0, 1)} == sounding(parsed(midi_bytes(piece(part([(0, 0, 60, 90)])))))


def test_positions_are_rounded_once(part, piece) -> None:
    """Sevenths of a quarter do not drift: the seven-hundredth is where it should be."""
    notes = [(Fraction(i, 7), Fraction(1, 7), 60 + i % 7, 90) for i in range(701)]
    starts = {start for *_, start, _ in sounding(parsed(midi_bytes(piece(part(notes)))))}
    assert {tick(Fraction(i, 7)) for i in range(701)} == starts
    assert 100 * PPQ in starts


def test_controls_are_written_at_their_time(part, piece) -> None:
    """Expression, CC 11, where the performance has it."""
    data = midi_bytes(piece(part([(0, 2, 60, 90)], controls=[(1, 11, 77)])))
    assert [(PPQ, 11, 77)] == [(at, m.control, m.value) for at, m in bodies(data, "control_change") if m.control == 11]


def test_percussion_plays_on_channel_10_and_nothing_else_does(part, piece) -> None:
    """Channel 10 is 9 on the wire."""
    parts = [part([(0, 1, 60, 90)]) for _ in range(15)]
    data = midi_bytes(piece(*parts, part([(0, 1, 76, 90)], 0, percussion=True)))
    assert [*range(9), *range(10, 16), 9] == [message.channel for _, message in bodies(data, "note_on")]


def test_no_notes_make_a_valid_file(piece) -> None:
    """An empty performance is a conductor track that ends."""
    assert ["track_name", "set_tempo", "end_of_track"] == [m.type for m in parsed(midi_bytes(piece())).tracks[0]]


def test_same_performance_same_bytes(example) -> None:
    """Nothing depends on the moment."""
    assert midi_bytes(example) == midi_bytes(example)


def test_a_file_is_written(example, tmp_path) -> None:
    """`write_midi` puts these bytes on the disk."""
    write_midi(example, tmp_path / "x.mid")
    assert midi_bytes(example) == (tmp_path / "x.mid").read_bytes()


@given(
    st.lists(
        st.tuples(
            st.fractions(0, 8, max_denominator=48),
            st.fractions(0, 4, max_denominator=48),
            st.integers(58, 62),
            st.integers(1, 127),
        ),
        max_size=30,
    )
)
def test_any_notes_give_a_readable_track(part, piece, notes) -> None:
    """Whatever overlaps, each note-on has its note-off later, and each onset is struck."""
    read = parsed(midi_bytes(piece(part(notes))))
    found = sounding(read)
    assert all(start < stop for *_, start, stop in found)
    assert {(key, tick(onset)) for onset, _, key, _ in notes} == {(key, start) for _, key, _, start, _ in found}


def test_a_session_refuses_what_a_file_does_not_hold() -> None:
    """The limit a interpretation knows is the file's own, in whole quarter notes."""
    assert variable_length(LONGEST_Q * PPQ)
    with pytest.raises(ValueError, match="does not fit"):
        variable_length((LONGEST_Q + 1) * PPQ)
