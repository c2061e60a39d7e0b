"""WAV files read back by libsndfile, which knows nothing of this project."""

from __future__ import annotations

import struct

import numpy as np
import pytest
import soundfile

from appui.errors import SoundError
from appui.sound.formats import TAGS
from appui.sound.wav import wav_file

RATE = 44_100


@pytest.fixture
def noise() -> np.ndarray:
    """An odd number of frames of noise."""
    return np.random.default_rng(3).uniform(-0.9, 0.9, (1001, 2)).astype(np.float32)


def test_samples_and_tags_come_back(tmp_path, noise) -> None:
    """24 bits a sample, and every tag, in letters beyond ASCII too."""
    file = tmp_path / "x.wav"
    tags = {name: f"{name} é" for name in TAGS if name != "tracknumber"} | {"tracknumber": "7"}
    with wav_file(file, file, RATE, len(noise), tags) as put:
        put(noise)
    with soundfile.SoundFile(file) as found:
        assert ("PCM_24", 2, RATE) == (found.subtype, found.channels, found.samplerate)
        assert tags == {name: getattr(found, name) for name in TAGS}
        assert abs(found.read(dtype="float64") - noise).max() <= 0.5 / 2**23 + 1e-9


def test_the_sizes_are_those_of_the_file(tmp_path, noise) -> None:
    """RIFF says how much follows; chunks are of even length."""
    file = tmp_path / "x.wav"
    with wav_file(file, file, RATE, len(noise), {"title": "odd"}) as put:
        put(noise)
    data = file.read_bytes()
    assert len(data) - 8 == struct.unpack("<I", data[4:8])[0]
    assert 0 == data.index(b"data") % 2


def test_what_was_written_is_written_again(tmp_path, noise) -> None:
    """From any frame, and what follows is not harmed."""
    file = tmp_path / "x.wav"
    with wav_file(file, file, RATE, 3 * len(noise) - 500, {}) as put:
        put(noise)
        put.again(500, 501)
        put(noise)
    heard = soundfile.read(file, dtype="int32")[0]
    assert np.array_equal(heard[1001:1502], heard[500:1001])
    assert np.array_equal(heard[1502:], heard[:1001])


def test_too_long_is_refused(tmp_path) -> None:
    """Before anything is written."""
    file = tmp_path / "x.wav"
    words = r"5\.0 hours are more than a WAV file holds\. Remedy: name a \.flac file"
    with pytest.raises(SoundError, match=words), wav_file(file, file, RATE, 5 * 3600 * RATE):
        pass
    assert not file.exists()
