"""What whole runs of every command write, made once."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.hardening.commands import COMMANDS, bytes_in, environment, timeless

Files = dict[str, dict[str, bytes]]


def _all(folder: Path, *words: str, **env: str) -> Files:
    """What every command writes, all run in one process."""
    command = [sys.executable, str(Path(__file__).with_name("commands.py")), str(folder), *words]
    done = subprocess.run(command, env=environment(**env), capture_output=True, check=False, text=True)
    assert done.returncode == 0, done.stderr
    return {
        name: {path: timeless(path, data) for path, data in bytes_in(folder / name).items()}
        for name in COMMANDS
        if (folder / name).exists()
    }


@pytest.fixture(scope="session")
def run_all() -> Callable[..., Files]:
    """Runs every command; see `commands`."""
    return _all


@pytest.fixture(scope="session")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """The files of every command, run to its end."""
    return _all(tmp_path_factory.mktemp("whole"), LC_ALL="C.UTF-8")
