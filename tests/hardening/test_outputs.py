"""Outputs under bad luck: killed processes, full and forbidden disks, two runs at once. Whole, or not there."""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from commands import COMMANDS, FERRY, bytes_in, environment, prepare, run, start

OLD = b"what was there before"
KILLED = ("render", "practice", "compare")


def _seen(folder: Path) -> int:
    return sum(path.is_file() for path in folder.rglob("*"))


def _kill_at(name: str, folder: Path, more: int, pause_s: float) -> bool:
    """Kill a command outright once so many files more have appeared, or ended; whether it was killed."""
    before = _seen(folder)
    with start(COMMANDS[name], folder) as process:
        while process.poll() is None and _seen(folder) < before + more:
            time.sleep(0.002)
        time.sleep(pause_s)
        killed = process.poll() is None
        if killed:
            os.killpg(process.pid, signal.SIGKILL)
    return killed


@pytest.mark.parametrize("name", KILLED)
def test_a_killed_run_leaves_whole_files(name: str, whole, tmp_path: Path) -> None:
    """Killed as files appear: under the names of outputs there is what a whole run writes, or what was there before."""
    expected = whole[name][1]
    killed = 0
    for moment, (more, pause_s) in enumerate([(1, 0.0), (2, 0.01), (4, 0.03)]):
        folder = prepare(tmp_path / str(moment))
        if name == "render":
            (folder / "a.flac").write_bytes(OLD)
        killed += _kill_at(name, folder, more, pause_s)
        for path, data in bytes_in(folder).items():
            if Path(path).name == "index.json":
                json.loads(data)
            elif not Path(path).name.startswith(".appui-"):
                assert data in (expected[path], OLD), path
    assert killed >= 1


def test_a_killed_set_goes_on(whole, tmp_path: Path) -> None:
    """The next run ends where a whole one does."""
    folder = prepare(tmp_path / "set")
    _kill_at("practice", folder, 3, 0.0)
    assert run(COMMANDS["practice"], folder)[0] == 0
    left = {path: data for path, data in bytes_in(folder).items() if not path.startswith(".appui-")}
    assert whole["practice"][1] == left


#  a command and how many bytes its files may have: too few for what it writes, some on the way
FULL = {"survey": 500, "render": 2_000, "practice": 2_000, "compare": 30_000, "accompany": 1_000}


@pytest.mark.parametrize("name", FULL)
def test_a_full_disk_is_said(name: str, tmp_path: Path) -> None:
    """Exit status 1, one sentence, and no part of a file."""

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (FULL[name], FULL[name]))

    folder = prepare(tmp_path / name)
    before = set(bytes_in(folder))
    done = subprocess.run(
        [sys.executable, "-m", "appui", *COMMANDS[name]],
        cwd=folder,
        env=environment(TMPDIR=str(tmp_path), PYTHONDONTWRITEBYTECODE="1"),
        capture_output=True,
        preexec_fn=limited,
        check=False,
        text=True,
    )
    assert (1, 1) == (done.returncode, done.stderr.count("appui: ")), done.stderr
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
    # what fits may be there; nothing begun is
    assert [] == [path for path in set(bytes_in(folder)) - before if ".appui-" in path]


def test_a_full_file_system_is_said(tmp_path: Path) -> None:
    """A small file system of its own, where one may be mounted: the old file stays."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    if not Path("/bin/mount").exists() or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no file system may be mounted here")
    try:
        (disk / "a.wav").write_bytes(OLD)
        status, _, err = run(("render", FERRY, "a.wav", "--bars", "1"), disk)
        assert (1, True) == (status, "No space left" in err), err
        assert {"a.wav": OLD} == bytes_in(disk)
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_forbidden_folder_is_said(tmp_path: Path) -> None:
    """Exit status 1 and one sentence; for root, who may write everywhere else, the folder is the kernel's."""
    forbidden = Path("/proc") if os.geteuid() == 0 else tmp_path / "shut"
    if os.geteuid():
        forbidden.mkdir(mode=0o500)
    status, _, err = run(("render", FERRY, str(forbidden / "a.mid"), "--bars", "1"), tmp_path)
    assert (1, 1, False) == (status, err.count("appui: "), "Traceback" in err)
    assert [] == list(tmp_path.glob("*.mid"))


def test_two_runs_may_write_one_file(whole, tmp_path: Path) -> None:
    """The file is one of the two, whole; nothing lies beside it."""
    folder = prepare(tmp_path / "render")
    shorter = (*COMMANDS["render"][:2], "a.mid", "--bars", "3")
    with start(COMMANDS["render"], folder) as one, start(shorter, folder) as two:
        assert [0, 0] == [process.wait() for process in (one, two)]
    other = prepare(tmp_path / "other")
    run(shorter, other)
    found = bytes_in(folder)
    assert found["a.mid"] in (whole["render"][1]["a.mid"], bytes_in(other)["a.mid"])
    assert set(whole["render"][1]) == set(found)


def test_two_runs_may_make_one_set(whole, tmp_path: Path) -> None:
    """Both end well and leave what one alone would."""
    folder = prepare(tmp_path / "set")
    with start(COMMANDS["practice"], folder) as one, start(COMMANDS["practice"], folder) as two:
        assert [0, 0] == [process.wait() for process in (one, two)]
    assert whole["practice"][1] == bytes_in(folder)
