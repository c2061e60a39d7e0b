"""The stand started, ended, killed; and its programs' types."""

import os
import re
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from shutil import which

import httpx2
import pytest

from appui.stand.guard import Door
from appui.stand.rooms import SCRIPTS
from appui.stand.serve import addresses, square_code
from tests.stand.conftest import DEMO


@contextmanager
def started(*words: str | Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A stand of its own process, and its address."""
    command = [sys.executable, "-m", "appui", "stand", "--no-open", *map(str, words)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        found = re.search(r"http://\S+", process.stdout.readline())
        try:
            assert found is not None
            yield process, found[0]
        finally:
            process.kill()


def test_it_starts_and_ends_with_ctrl_c(tmp_path: Path, scores: Path) -> None:
    """The printed address opens the shelf; Ctrl-C ends it without a word of Python's."""
    with started(scores, "--shelf", tmp_path / "own") as (process, address):
        with httpx2.Client(follow_redirects=True) as web:
            assert "The shelf" in web.get(address).text
            assert 1 == len(web.get(f"{address.partition('/?')[0]}/api/shelf").json()["pieces"])
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=20)
    assert "Traceback" not in said


def test_a_score_that_is_not_there_is_said_at_once(tmp_path: Path) -> None:
    """Before anything is served."""
    command = [sys.executable, "-m", "appui", "stand", "--no-open", str(tmp_path / "no.musicxml")]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert 1 == done.returncode
    assert "is not there" in done.stderr


def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    """With the remedy."""
    with started("--shelf", tmp_path / "one") as (_, address):
        port = address.split(":")[2].split("/")[0]
        command = [
            sys.executable,
            "-m",
            "appui",
            "stand",
            "--no-open",
            "--port",
            port,
            "--shelf",
            str(tmp_path / "two"),
        ]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert 2 == done.returncode
    assert "name another with --port" in done.stderr


_DECIDES = """
import sys
from pathlib import Path
from appui.stand.desk import Desk
from appui.stand.shelf import Entry
desk, entry = Desk(), Entry("demo", Path(sys.argv[1]), own=True)
print("ready", flush=True)
while True:
    for words in ("before", "leaning 1/3", "short"):
        desk.decide(entry, "oboe.4.1", words)
"""


@pytest.mark.parametrize("after_s", [0.05, 0.11, 0.23])
def test_killed_while_writing_nothing_is_lost(tmp_path: Path, after_s: float) -> None:
    """The plan is the one before or the one after, whole, with what the player wrote into it by hand."""
    score = tmp_path / "ferry.musicxml"
    score.write_bytes(DEMO.read_bytes())
    plan = tmp_path / "ferry-plan.toml"
    with subprocess.Popen([sys.executable, "-c", _DECIDES, str(score)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert "ready" == process.stdout.readline().strip()
        while not plan.exists():
            time.sleep(0.01)
        time.sleep(after_s)
        process.kill()
    said = tomllib.loads(plan.read_text(encoding="utf-8"))
    assert said["readings"]["oboe.4.1"] in ("before", "leaning 1/3", "short")
    assert 30 == len(said["music"])


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the processes of Windows are not listed so")
def test_killed_outright_no_helper_stays_behind(tmp_path: Path, scores: Path) -> None:
    """The engraver's process ends with the stand, however that went."""
    with started(scores, "--shelf", tmp_path / "own") as (process, address):
        base = address.partition("/?")[0]
        with httpx2.Client(follow_redirects=True, timeout=60) as web:
            web.get(address)
            piece = web.get(f"{base}/api/shelf").json()["pieces"][0]["id"]
            assert 200 == web.get(f"{base}/api/pieces/{piece}/pictures").status_code
        helpers = _children(process.pid)
        assert helpers
        process.kill()
    for _ in range(100):
        if not any(Path(f"/proc/{helper}").exists() for helper in helpers):
            break
        time.sleep(0.05)
    assert not [helper for helper in helpers if Path(f"/proc/{helper}").exists()]


def _children(number: int) -> list[str]:
    """The processes that a process has started."""
    found = subprocess.run(["ps", "-o", "pid=", "--ppid", str(number)], capture_output=True, text=True, check=False)
    return found.stdout.split()


def test_the_shared_address_has_another_secret() -> None:
    """Whoever is let in by it is no owner; without sharing there is none."""
    door = Door(8000, frozenset(), guests="for the room")
    found = addresses(door, "192.168.1.7")
    assert "http://192.168.1.7:8000/?key=for the room" == found.shared
    assert door.owner not in found.shared
    assert not addresses(Door(8000, frozenset()), "192.168.1.7").shared


def test_a_square_code_is_drawn_with_letters() -> None:
    """Every row is as wide as the others, and there is light around it for a telephone to find it by."""
    rows = square_code("http://192.168.1.7:8000/?key=abc").rstrip("\n").split("\n")
    plain = [re.sub(r"\x1b\[[0-9;]*m", "", row) for row in rows]
    assert 1 == len({len(row) for row in plain})
    assert square_code("http://192.168.1.7:8000/?key=abd") != square_code("http://192.168.1.7:8000/?key=abc")


@pytest.mark.parametrize("room", sorted(SCRIPTS))
def test_the_types_of_a_rooms_scripts_hold(room: str) -> None:
    """TypeScript 5's compiler, strict, finds nothing; skipped where it is not installed."""
    compiler = which("tsc")
    if compiler is None:
        pytest.skip("NO TSC: the types of the stand's program are not checked (npm install -g typescript)")
    folders = (files("appui.stand") / "web", files("appui.page") / "web")
    paths = [str(next(folder / name for folder in folders if (folder / name).is_file())) for name in SCRIPTS[room]]
    options = "--allowJs --checkJs --lib es2023,dom,dom.iterable --module es2022 --moduleDetection legacy --noEmit"
    command = [compiler, *options.split(), "--strict", "--target", "es2022", *paths]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (0, "") == (done.returncode, done.stdout)
