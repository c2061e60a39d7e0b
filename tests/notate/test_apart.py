"""The engraver works in a process of its own: what brings it down is an error that names the score."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from appui.errors import ScoreError
from appui.notate.apart import engrave_apart

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="no process can be forked here")


def test_what_is_engraved_comes_back() -> None:
    """In order, letters of all kinds among it."""
    made = ["<svg>é𝅘𝅥</svg>", "", "x" * 1_000_000]
    assert made == engrave_apart(lambda: list(made), "a.xml")


@needs_fork
def test_an_engraver_that_falls_is_told() -> None:
    """By the name of its end; this process goes on."""

    def fall() -> list[str]:
        os.kill(os.getpid(), signal.SIGSEGV)
        return []

    with pytest.raises(ScoreError, match=r"a\.xml: brings the engraver down \(SIGSEGV\)\. Remedy: "):
        engrave_apart(fall, "a.xml")


@needs_fork
def test_an_error_in_the_engraver_is_told(capfd: pytest.CaptureFixture[str]) -> None:
    """Nothing of this process's end is done in the other."""

    def wrong() -> list[str]:
        raise ValueError

    with pytest.raises(ScoreError, match=r"brings the engraver down \(an error\)"):
        engrave_apart(wrong, "a.xml")
    assert "Traceback" not in capfd.readouterr().err


@needs_fork
def test_an_engraver_that_never_ends_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """After so much computing."""
    monkeypatch.setattr("appui.notate.apart.LIMIT_S", 1)

    def endless() -> list[str]:
        while True:
            pass

    with pytest.raises(
        ScoreError, match=r"a\.xml: takes the engraver more than 1 s of computing, the limit.*Remedy: take"
    ):
        engrave_apart(endless, "a.xml")


@needs_fork
def test_an_engraver_without_memory_is_told() -> None:
    """How much there is, and what to do."""

    def hungry() -> list[str]:
        raise MemoryError

    with pytest.raises(MemoryError, match=r"engraving a\.xml needs more memory than there is \(.* GB\)\. Remedy: "):
        engrave_apart(hungry, "a.xml")


def test_where_no_process_can_be_forked_the_work_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on Windows."""
    monkeypatch.delattr(os, "fork", raising=False)
    assert [str(os.getpid())] == engrave_apart(lambda: [str(os.getpid())], "a.xml")


@needs_fork
def test_a_lower_limit_of_the_players_own_is_kept() -> None:
    """Nobody may raise it again; the engraver works within it."""
    script = (
        "import resource\nfrom appui.notate.apart import engrave_apart\n"
        "resource.setrlimit(resource.RLIMIT_CPU, (60, 60))\n"
        "print(engrave_apart(lambda: [str(resource.getrlimit(resource.RLIMIT_CPU))], 'a.xml'))"
    )
    env = dict(os.environ) | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, check=False, text=True)
    assert "['(60, 60)']" == done.stdout.strip(), done.stderr
