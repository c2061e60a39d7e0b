"""OGG pages with a serial number that is not drawn by chance."""

from pathlib import Path

import numpy as np
import soundfile

from appui.sound.ogg import page_checksum, settle_serial


def pages(data: bytes) -> list[bytes]:
    """The pages of a file."""
    found = []
    while data:
        length = 27 + data[26] + sum(data[27 : 27 + data[26]])
        found.append(data[:length])
        data = data[length:]
    return found


def written(path: Path) -> bytes:
    """A second of a tone as OGG."""
    soundfile.write(path, 0.1 * np.sin(np.arange(44_100) / 20), 44_100, format="OGG", subtype="VORBIS")
    return path.read_bytes()


def test_the_checksum_is_that_of_the_library(tmp_path: Path) -> None:
    """Of every page that libsndfile wrote (RFC 3533, section 6, memory)."""
    for page in pages(written(tmp_path / "tone.ogg")):
        assert int.from_bytes(page[22:26], "little") == page_checksum(page[:22] + bytes(4) + page[26:])


def test_two_files_of_one_sound_are_the_same_bytes(tmp_path: Path) -> None:
    """Every page has serial number 1, and the sound is what it was."""
    file = tmp_path / "tone.ogg"
    written(file)
    before, _ = soundfile.read(file)
    settle_serial(file)
    assert {1} == {int.from_bytes(page[14:18], "little") for page in pages(file.read_bytes())}
    assert np.array_equal(before, soundfile.read(file)[0])
    other = tmp_path / "other.ogg"
    written(other)
    settle_serial(other)
    assert file.read_bytes() == other.read_bytes()
