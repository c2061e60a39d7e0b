"""Files appear whole or not at all."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from appui.errors import OutputError
from appui.sound.files import SWEEP_AFTER_S, make_folder, whole_file, write_whole


def test_a_file_is_written_and_nothing_else(tmp_path) -> None:
    """The passing file is gone."""
    write_whole(tmp_path / "new.txt", b"new")
    assert {"new.txt": b"new"} == {path.name: path.read_bytes() for path in tmp_path.iterdir()}


def test_a_new_file_has_ordinary_permissions(tmp_path) -> None:
    """As if it had been opened for writing."""
    write_whole(tmp_path / "ours", b"")
    (tmp_path / "plain").write_bytes(b"")
    assert (tmp_path / "plain").stat().st_mode == (tmp_path / "ours").stat().st_mode


def test_an_old_file_keeps_its_permissions(kept) -> None:
    """What its owner set stays."""
    path = kept("old")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert (0o640, b"new") == (path.stat().st_mode & 0o777, path.read_bytes())


def test_a_link_is_followed(kept, tmp_path) -> None:
    """The file it points to is written, the link stays a link."""
    path = kept("old")
    (tmp_path / "link").symlink_to(path)
    write_whole(tmp_path / "link", b"new")
    assert (True, b"new") == ((tmp_path / "link").is_symlink(), path.read_bytes())


def test_a_failure_leaves_what_was_there(kept) -> None:
    """An error in the block passes through; the old file stands and nothing lies beside it."""
    path = kept("old")
    with pytest.raises(ZeroDivisionError), whole_file(path) as temporary:  # noqa: PT012
        temporary.write_bytes(b"half")
        _ = 1 / 0
    assert ([path], b"what was there") == (list(path.parent.iterdir()), path.read_bytes())


def test_a_full_disk_leaves_what_was_there(kept, small_disk) -> None:
    """The system refuses the write in its middle."""
    path = kept("old")
    with small_disk(1000), pytest.raises(OutputError, match=r"old: cannot be written \(.+\)\. Remedy: free space"):
        write_whole(path, bytes(5000))
    assert ([path], b"what was there") == (list(path.parent.iterdir()), path.read_bytes())


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="killing outright is a thing of Unix")
def test_a_killed_process_leaves_what_was_there(kept) -> None:
    """Killed between writing and renaming."""
    path = kept("old")
    script = (
        "import os, signal, sys\nfrom pathlib import Path\nfrom appui.sound.files import whole_file\n"
        "with whole_file(Path(sys.argv[1])) as temporary:\n"
        "    temporary.write_bytes(b'half')\n    os.kill(os.getpid(), signal.SIGKILL)"
    )
    ended = subprocess.run([sys.executable, "-c", script, path], check=False)
    assert (-signal.SIGKILL, b"what was there") == (ended.returncode, path.read_bytes())


def test_a_missing_folder_is_named(tmp_path) -> None:
    """Folders are not made for a single file."""
    with pytest.raises(OutputError, match=r"its folder .*none does not exist\. Remedy: make the folder"):
        write_whole(tmp_path / "none" / "x", b"")
    assert [] == list(tmp_path.iterdir())


def test_a_folder_is_no_file(tmp_path) -> None:
    """Its contents are not touched."""
    with pytest.raises(OutputError, match="is a folder"):
        write_whole(tmp_path, b"")


@pytest.mark.skipif(not Path(os.devnull).is_char_device(), reason="no device to try")
def test_a_device_is_never_replaced() -> None:
    """Renaming over it would take it away from the whole system."""
    with pytest.raises(OutputError, match="is a device"):
        write_whole(Path(os.devnull), b"")


def test_a_forbidden_folder_is_named(tmp_path, monkeypatch) -> None:
    """As the system says it; made up here, since root may write anywhere."""

    def refuse(**_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkstemp", refuse)
    with pytest.raises(OutputError, match=r"cannot be written \(Permission denied\)\. Remedy: name another place\.$"):
        write_whole(tmp_path / "x", b"")


def test_folders_are_made_with_their_parents(tmp_path) -> None:
    """For commands that fill a folder; a file in the way is named."""
    make_folder(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match="file: the folder cannot be made"):
        make_folder(tmp_path / "file")


@pytest.mark.parametrize("come", [make_folder, lambda folder: write_whole(folder / "old.wav", b"whole")])
def test_what_a_killed_process_left_is_swept_out(come, tmp_path) -> None:
    """By whoever writes there next. A fresh passing file may be of a run under way; other files, links are not ours."""
    for name, age_s in ((".appui-old.wav", SWEEP_AFTER_S + 60), (".appui-new.wav", 0), ("old.wav", 10 * SWEEP_AFTER_S)):
        (tmp_path / name).write_bytes(b"half")
        then = time.time() - age_s
        os.utime(tmp_path / name, (then, then))
    (tmp_path / ".appui-link").symlink_to("old.wav")
    come(tmp_path)
    assert {".appui-link", ".appui-new.wav", "old.wav"} == {path.name for path in tmp_path.iterdir()}
