"""Scratch folders: gone after use; those of killed processes gone after the next; nobody else's ever touched."""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from appui import scratch as module
from appui.errors import OutputError
from appui.scratch import MARK, PREFIX, scratch, sweep

#  a process that uses a scratch folder, and waits or is killed outright
_USER = """
import os, signal, sys
from appui.scratch import scratch
with scratch() as folder:
    (folder / "stem").write_bytes(b"half")
    print(folder, flush=True)
    if sys.argv[1] == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    sys.stdin.read()
"""


@pytest.fixture(name="temporary")
def _temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A temporary folder of the test's own, not swept yet."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    module._sweep_once.cache_clear()
    return tmp_path


def _user(what: str, temporary: Path) -> subprocess.Popen[str]:
    env = dict(os.environ) | {"TMPDIR": str(temporary), "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen(
        [sys.executable, "-c", _USER, what], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=env
    )


def _killed(temporary: Path) -> Path:
    """The scratch folder a process has left that was killed outright."""
    with _user("killed", temporary) as process:
        process.communicate()
    assert -signal.SIGKILL == process.returncode
    (left,) = temporary.iterdir()
    return left


def _made(folder: Path, mark: bytes | None) -> Path:
    (folder / "files").mkdir(parents=True)
    if mark is not None:
        (folder / MARK).write_bytes(mark)
    return folder


def test_a_scratch_folder_is_gone_afterwards(temporary: Path) -> None:
    """With all that is in it, also where the block fails."""
    with pytest.raises(ZeroDivisionError), scratch() as folder:  # noqa: PT012
        (folder / "deep").mkdir()
        (folder / "deep" / "file").write_bytes(b"x")
        _ = 1 / 0
    assert [] == list(temporary.iterdir())


def test_a_scratch_folder_is_its_owners_alone(temporary: Path) -> None:
    """Nobody else may look into it; its mark has the number of the process."""
    with scratch():
        (folder,) = temporary.iterdir()
        assert 0o700 == folder.stat().st_mode & 0o777
        assert f"{os.getpid()}\n" == (folder / MARK).read_text()


def test_what_a_killed_process_left_is_swept_at_the_next_start(temporary: Path) -> None:
    """By the next scratch folder, not before."""
    left = _killed(temporary)
    assert (left / "files" / "stem").exists()
    with scratch() as folder:
        assert [folder.parent] == list(temporary.iterdir())


def test_a_living_process_keeps_its_folder(temporary: Path) -> None:
    """However many sweep meanwhile; once it is dead the folder goes."""
    with _user("waits", temporary) as process:
        assert process.stdout is not None
        folder = Path(process.stdout.readline().strip())
        sweep(temporary)
        assert (folder / "stem").exists()
        process.kill()
        process.wait()
    sweep(temporary)
    assert [] == list(temporary.iterdir())


def test_a_lock_counts_and_not_a_number(temporary: Path) -> None:
    """A process of another container has a number that says nothing here: its lock does."""
    folder = _made(temporary / f"{PREFIX}other", b"999999999\n")
    with (folder / MARK).open() as mark:
        fcntl.flock(mark, fcntl.LOCK_EX)
        sweep(temporary)
        assert folder.exists()
    sweep(temporary)
    assert not folder.exists()


@pytest.mark.parametrize("mark", [None, b"", b"notes of mine"])
def test_a_folder_without_our_mark_stays(mark: bytes | None, temporary: Path) -> None:
    """A player's folder of the same kind of name, or one whose process has only begun."""
    folder = _made(temporary / f"{PREFIX}drill", mark)
    sweep(temporary)
    assert (folder / "files").exists()


def test_links_are_never_followed(temporary: Path) -> None:
    """Neither a link in place of the folder, nor one in place of the mark, nor one inside."""
    mine = _made(temporary / "mine", b"1\n")
    (temporary / f"{PREFIX}link").symlink_to(mine)
    marked_by_link = _made(temporary / f"{PREFIX}mark", None)
    (marked_by_link / MARK).symlink_to(mine / MARK)
    swept = _made(temporary / f"{PREFIX}swept", b"1\n")
    (swept / "files" / "link").symlink_to(mine)
    sweep(temporary)
    assert {"mine", f"{PREFIX}link", f"{PREFIX}mark"} == {path.name for path in temporary.iterdir()}
    assert {"files", MARK} == {path.name for path in mine.iterdir()}


def test_another_users_folder_stays(temporary: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even where, as root, it could be taken away."""
    folder = _made(temporary / f"{PREFIX}theirs", b"1\n")
    monkeypatch.setattr(os, "getuid", lambda: folder.stat().st_uid + 1)
    sweep(temporary)
    assert folder.exists()


def test_where_there_are_no_locks_nothing_is_swept(temporary: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Scratch folders work all the same."""
    folder = _made(temporary / f"{PREFIX}left", b"1\n")
    monkeypatch.setitem(sys.modules, "fcntl", None)
    with scratch() as own:
        (own / "file").write_bytes(b"x")
    assert [folder] == list(temporary.iterdir())


def test_what_cannot_be_taken_away_keeps_its_mark(temporary: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And goes with the next sweep."""
    left = _killed(temporary)
    with monkeypatch.context() as patched:
        patched.setattr("shutil.rmtree", lambda *_, **__: None)
        sweep(temporary)
    assert (left / MARK).exists()
    sweep(temporary)
    assert not left.exists()


def test_a_missing_temporary_folder_is_said(temporary: Path) -> None:
    """As an error of ours."""
    tempfile.tempdir = str(temporary / "none")
    with pytest.raises(OutputError, match=r"scratch folder: cannot be made \(No such file"), scratch():
        pass
