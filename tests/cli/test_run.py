"""The program ends at once, with everything done that is to be done at the end."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

_SCRIPT = """
import atexit, sys, threading
sys.argv = ['appui', *sys.argv[1:]]
from appui.cli.main import run
atexit.register(print, 'done at the end')
{}
run()
"""
_THREAD = "threading.Thread(target=lambda: (__import__('time').sleep(0.3), print('the thread has ended'))).start()"


def _run(*words: str, before: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", _SCRIPT.format(before), *words], capture_output=True, text=True, check=False
    )


def test_the_status_is_that_of_the_command(tmp_path: Path) -> None:
    """Done, not to be used, not to be meant."""
    commands = (["--version"], ["survey", str(tmp_path / "none.xml")], ["nonsense"])
    assert [0, 1, 2] == [_run(*words).returncode for words in commands]


def test_what_is_printed_comes_out_and_the_end_is_kept() -> None:
    """Output is flushed, functions for the end of the process are called."""
    done = _run("--version")
    assert ["appui, version", "done at the end"] == [line.rstrip("0123456789. ") for line in done.stdout.splitlines()]


def test_other_threads_are_waited_for() -> None:
    """With one at work the process ends in the usual way."""
    assert "the thread has ended" in _run("--version", before=_THREAD).stdout
