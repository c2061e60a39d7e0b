"""The same input gives the same bytes, whatever the machine is set to."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from commands import COMMANDS, FERRY, bytes_in, environment, prepare, run

#  as a program does that shows numbers in the player's language: from here on C libraries write decimals with a comma
_AS_SPOKEN = (
    "import locale, sys\nlocale.setlocale(locale.LC_ALL, '')\nassert locale.str(0.5) == '0,5', locale.str(0.5)\n"
)
_MAIN = "sys.argv[0] = 'appui'\nfrom appui.cli.main import main\nmain()\n"


@pytest.fixture(scope="session")
def german(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, str]:
    """The environment of a place where decimals have a comma; made here, since few machines have it."""
    place = tmp_path_factory.mktemp("locales")
    command = ["localedef", "-i", "de_DE", "-f", "UTF-8", str(place / "de_DE.UTF-8")]
    try:
        made = subprocess.run(command, capture_output=True, check=False)
    except FileNotFoundError:
        pytest.skip("no localedef here")
    if not (place / "de_DE.UTF-8").is_dir():
        pytest.skip(f"no German locale can be made here: {made.stderr.decode()[:200]}")
    return {"LOCPATH": str(place), "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}


@pytest.mark.parametrize("name", COMMANDS)
def test_another_day_elsewhere(name: str, whole, tmp_path: Path) -> None:
    """Another hash seed, time zone, terminal and number of processors."""
    folder = prepare(tmp_path / name)
    env = environment(PYTHONHASHSEED="4242", TZ="Pacific/Kiritimati", LC_ALL="C", COLUMNS="40")
    words = [sys.executable, "-c", _ONE_PROCESSOR + _MAIN, *COMMANDS[name]]
    done = subprocess.run(words, cwd=folder, env=env, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert _silent(whole[name]) == (done.stdout if name == "survey" else b"", bytes_in(folder))


@pytest.mark.parametrize("name", COMMANDS)
def test_where_decimals_have_a_comma(name: str, whole, german: Mapping[str, str], tmp_path: Path) -> None:
    """German numbers for everything that asks the system, FluidSynth and libsndfile among them."""
    folder = prepare(tmp_path / name)
    words = [sys.executable, "-c", _AS_SPOKEN + _MAIN, *COMMANDS[name]]
    done = subprocess.run(words, cwd=folder, env=environment(**german), capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    assert _silent(whole[name]) == (done.stdout if name == "survey" else b"", bytes_in(folder))


def _silent(found: tuple[bytes, dict[str, bytes]]) -> tuple[bytes, dict[str, bytes]]:
    """What was written; of the words on the screen only JSON's are held against one another."""
    out, files = found
    return (out if out.startswith(b"{") else b"", files)


_ONE_PROCESSOR = "import os, sys\nos.cpu_count = lambda: 1\nos.sched_setaffinity(0, {min(os.sched_getaffinity(0))})\n"


def test_a_batch_of_any_number_of_processes(tmp_path: Path) -> None:
    """One process or two: the same files and the same report but for its times."""
    (tmp_path / "scores").mkdir()
    for number in range(2):
        (tmp_path / "scores" / f"{number}.musicxml").write_bytes(Path(FERRY).read_bytes())
    found = []
    for jobs in ("1", "2"):
        status, _, err = run(("batch", "scores", jobs, "--do", "render", "--jobs", jobs), tmp_path)
        assert status == 0, err
        found.append({p: d for p, d in bytes_in(tmp_path / jobs).items() if p.endswith(".mid")})
    assert found[0] == found[1]
    assert len(found[0]) == 2
