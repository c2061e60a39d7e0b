"""Outputs under bad luck: killed processes, full and forbidden disks, two runs at once. Whole, or not there."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.hardening.commands import COMMANDS, FERRY, THOROUGH, bytes_in, prepare, run_inside, start, timeless
from tests.hardening.conftest import Files
from tests.hardening.kills import OLD, drill_faults, faults, finished, kill

#  a command, how many files have appeared when it is killed
KILLED = {"render": 1, "practice": 3, "page": 2, "batch": 2, "sheet": 1}
if THOROUGH:
    KILLED |= {"compare": 2, "embellish": 2, "notate": 1, "pdf": 1, "whole page": 1, "drill page": 1, "accompany": 1}


def _expected(whole: Files, name: str) -> dict[str, bytes]:
    return {path: data for path, data in whole[name].items() if path != "stdout"}


@pytest.mark.parametrize("name", KILLED)
def test_a_killed_run_leaves_whole_files(name: str, whole, tmp_path: Path) -> None:
    """Killed as files appear: under the names of outputs is what a whole run writes, or what was there before."""
    folder = prepare(tmp_path / "in")
    if name == "render":
        (folder / "a.flac").write_bytes(OLD)
    assert kill(COMMANDS[name], folder, 0.0, files=KILLED[name])
    assert [] == faults(folder, _expected(whole, name))
    if THOROUGH or name in ("practice", "batch"):
        assert [] == finished(COMMANDS[name], folder, _expected(whole, name))


def test_a_killed_drill_loses_no_answer(tmp_path: Path) -> None:
    """What was said to be right or wrong is in the database, and the database opens."""
    assert [] == drill_faults(prepare(tmp_path / "in"), 1)


#  a command and how many bytes its files may have: too few for what it writes, some on the way
FULL = {"survey": 500, "render": 2_000, "page": 20_000, "batch": 400, "notate": 1_000, "sheet": 2_000}
if THOROUGH:
    FULL |= {
        "practice": 2_000,
        "compare": 30_000,
        "accompany": 1_000,
        "pdf": 1_000,
        "drill page": 2_000,
        "embellish": 50,
    }


@pytest.mark.parametrize("name", FULL)
def test_a_full_disk_is_said(name: str, tmp_path: Path) -> None:
    """One sentence, and no part of a file; a batch says it in its report, if that can be written."""
    folder = prepare(tmp_path / name)
    before = set(bytes_in(folder))
    status, err = run_inside(COMMANDS[name], folder, most_bytes=FULL[name])
    assert (1, 1) == (status, err.count("appui: ")), err
    assert "cannot be written" in err
    assert "Traceback" not in err
    # what fits may be there; nothing begun is
    assert [] == [path for path in set(bytes_in(folder)) - before if ".appui-" in path]


@pytest.fixture(scope="module", name="disk")
def _disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A small file system of its own, where one may be mounted."""
    place = tmp_path_factory.mktemp("disk")
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(place)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no file system may be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def _only_to_read(place: Path, *, really: bool) -> None:
    kind = "ro" if really else "rw"
    subprocess.run(["mount", "-o", f"remount,{kind}", str(place)], check=True, capture_output=True)


#  words for a command that writes to the small disk; what its error says
ON_DISK = (
    ("render", FERRY, "{disk}/a.wav", "--bars", "1"),
    ("page", FERRY, "{disk}/a.html", "--bars", "12", "--tempo", "100%"),
    ("drill", "heavier", "--sheet", "{disk}/sheet", "--trials", "1"),
    ("notate", FERRY, "{disk}/a.musicxml"),
    ("batch", "scores", "{disk}/out", "--do", "practice", "--jobs", "1"),
    ("progress", "--store", "{disk}/results"),
)
_WORDS = {"notate": "", "progress": ""}  # what they write is small enough


@pytest.mark.parametrize("words", ON_DISK if THOROUGH else ON_DISK[:2], ids=lambda words: words[0])
def test_a_full_file_system_is_said(words: tuple[str, ...], disk: Path, tmp_path: Path) -> None:
    """Nothing half-written is left; the old file stays."""
    (disk / "filling").write_bytes(bytes(40_000))
    (disk / "a.wav").write_bytes(OLD)
    before = bytes_in(disk)
    status, err = run_inside(tuple(word.format(disk=disk) for word in words), prepare(tmp_path / "in"))
    assert "Traceback" not in err
    if status:
        assert "No space left" in err or "disk may be full" in err or "refused" in err, err
    else:
        assert words[0] in _WORDS or words[0] == "batch"
    assert before.items() <= bytes_in(disk).items()
    assert [] == list(disk.rglob(".appui-*"))


@pytest.mark.parametrize("words", ON_DISK if THOROUGH else ON_DISK[-3:], ids=lambda words: words[0])
def test_a_file_system_only_to_read_is_said(words: tuple[str, ...], disk: Path, tmp_path: Path) -> None:
    """In one sentence, and before minutes of work."""
    _only_to_read(disk, really=True)
    try:
        status, err = run_inside(tuple(word.format(disk=disk) for word in words), prepare(tmp_path / "in"))
        assert (1, 1) == (status, err.count("appui: ")), err
        assert "Read-only file system" in err or "may not be written" in err or "unable to open" in err
    finally:
        _only_to_read(disk, really=False)


def test_two_runs_may_write_one_file(whole, tmp_path: Path) -> None:
    """The file is one of the two, whole; nothing lies beside it."""
    folder = prepare(tmp_path / "render")
    shorter = (*COMMANDS["render"][:2], "a.mid", "--bars", "3")
    with start(COMMANDS["render"], folder) as one, start(shorter, folder) as two:
        assert [0, 0] == [process.wait() for process in (one, two)]
    other = prepare(tmp_path / "other")
    assert 0 == run_inside(shorter, other)[0]
    found = bytes_in(folder)
    assert found["a.mid"] in (whole["render"]["a.mid"], bytes_in(other)["a.mid"])
    assert set(_expected(whole, "render")) == set(found)


@pytest.mark.parametrize("name", ["practice", "batch", *(["page", "sheet", "whole page"] if THOROUGH else [])])
def test_two_runs_may_fill_one_folder(name: str, whole, tmp_path: Path) -> None:
    """Both end well and leave what one alone would."""
    folder = prepare(tmp_path / "in")
    with start(COMMANDS[name], folder) as one, start(COMMANDS[name], folder) as two:
        assert [0, 0] == [process.wait() for process in (one, two)]
    assert _expected(whole, name) == {path: timeless(path, data) for path, data in bytes_in(folder).items()}
