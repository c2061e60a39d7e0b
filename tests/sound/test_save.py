"""Outputs are checked before any is written."""

from pathlib import Path

import pytest

from appui.errors import OutputError, UsageError
from appui.sound.save import check_outputs


@pytest.mark.parametrize("name", ["a.mid", "a.MIDI", "a.wav", "a.flac", "a.ogg", "a.mp3"])
def test_a_known_suffix_is_taken(tmp_path: Path, name: str) -> None:
    """In capitals too."""
    check_outputs([tmp_path / name])


@pytest.mark.parametrize("name", ["a.xyz", "a", ".mid"])
def test_another_suffix_is_refused(tmp_path: Path, name: str) -> None:
    """With those there are."""
    with pytest.raises(UsageError, match="outputs end in"):
        check_outputs([tmp_path / name])


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """Before anything is rendered."""
    with pytest.raises(OutputError, match="does not exist"):
        check_outputs([tmp_path / "none" / "a.mid"])


def test_one_file_under_two_names_is_refused(tmp_path: Path) -> None:
    """The second would write over the first."""
    (tmp_path / "b").mkdir()
    with pytest.raises(UsageError, match="two outputs have the same name"):
        check_outputs([tmp_path / "a.mid", tmp_path / "b" / ".." / "a.mid"])
