"""A MIDI file as a take: what was pressed, when and how hard."""

from pathlib import Path

import mido
import pytest

from appui.errors import SoundError
from appui.listen.midi_take import Pressed, pressed_in


def written(path: Path, *messages: mido.Message) -> Path:
    """A file of these messages; times are ticks of a thousandth of a second."""
    file = mido.MidiFile(ticks_per_beat=500)
    file.tracks.append(mido.MidiTrack(messages))
    file.save(path)
    return path


def on(note: int, time: int = 0, velocity: int = 90, channel: int = 0) -> mido.Message:
    """A key goes down; with velocity 0, up."""
    return mido.Message("note_on", note=note, time=time, velocity=velocity, channel=channel)


def test_notes_are_told_with_their_times(tmp_path: Path) -> None:
    """In order, seconds; a key that goes down with velocity 0 goes up."""
    path = written(tmp_path / "a.mid", on(60), on(62, 500), on(60, 100, 0), on(62, 400, 0))
    (notes,) = pressed_in(path)
    assert [60, 62] == [note.key for note in notes]
    assert pytest.approx((0.0, 0.6, 60, 90)) == tuple(notes[0])
    assert pytest.approx((0.5, 1.0, 62, 90)) == tuple(notes[1])


def test_a_key_struck_again_ends_what_it_held(tmp_path: Path) -> None:
    """Without having gone up."""
    path = written(tmp_path / "a.mid", on(60), on(60, 500, 70), on(60, 500, 0))
    assert [[Pressed(0.0, 0.5, 60, 90), Pressed(0.5, 1.0, 60, 70)]] == pressed_in(path)


def test_channels_are_apart_and_drums_are_none(tmp_path: Path) -> None:
    """The tenth channel has no pitches."""
    both = [on(60), on(64, channel=1), on(40, channel=9)]
    path = written(tmp_path / "a.mid", *both, on(60, 500, 0), on(64, 0, 0, 1), on(40, 0, 0, 9))
    assert [[60], [64]] == [[note.key for note in each] for each in pressed_in(path)]


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("none.mid", None, "is no MIDI file that is there"),
        ("text.mid", b"no MIDI at all", "cannot be read as MIDI"),
        ("cut.mid", b"MThd\0\0\0\6\0\1\0\1\1\xf4MTrk\0\0\0\x50\0", "cannot be read as MIDI"),
    ],
)
def test_what_is_no_midi_is_refused(tmp_path: Path, name: str, data: bytes | None, words: str) -> None:
    """With what to do."""
    if data is not None:
        (tmp_path / name).write_bytes(data)
    with pytest.raises(SoundError, match=words):
        pressed_in(tmp_path / name)


def test_a_file_without_notes_is_refused(tmp_path: Path) -> None:
    """There is nothing to listen to."""
    with pytest.raises(SoundError, match="has no notes in it"):
        pressed_in(written(tmp_path / "a.mid"))


def test_a_take_of_an_hour_is_refused(tmp_path: Path) -> None:
    """It is to be cut first."""
    with pytest.raises(SoundError, match="lasts more than 14 minutes"):
        pressed_in(written(tmp_path / "a.mid", on(60), on(60, 3_600_000, 0)))
