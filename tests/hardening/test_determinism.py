"""The same input gives the same bytes, whatever the machine is set to."""

from __future__ import annotations

import subprocess
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.hardening.commands import COMMANDS, SLOW, THOROUGH

#  another hash seed, time zone, terminal; German numbers; one processor, and two processes for the batch
_ELSEWHERE = {"PYTHONHASHSEED": "4242", "TZ": "Pacific/Kiritimati", "COLUMNS": "40"}
#  but for the tables of letters and their order, which take most of the time to make and which Python has of its own
_GERMAN = "\n".join(
    f'LC_{name}\ncopy "{"POSIX" if name in ("CTYPE", "COLLATE") else "de_DE"}"\nEND LC_{name}'
    for name in (
        "CTYPE", "COLLATE", "IDENTIFICATION", "MONETARY", "NUMERIC", "TIME", "MESSAGES", "PAPER", "NAME", "ADDRESS",
        "TELEPHONE", "MEASUREMENT",
    )
)  # fmt: skip


@pytest.fixture(scope="session", name="german")
def _german(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, str]:
    """The environment of a place where decimals have a comma; made here, since few machines have it."""
    place = tmp_path_factory.mktemp("locales")
    (place / "german").write_text(_GERMAN, encoding="utf-8")
    command = ["localedef", "-i", str(place / "german"), "-f", "UTF-8", str(place / "de_DE.UTF-8")]
    try:
        subprocess.run(command, capture_output=True, check=False)
    except FileNotFoundError:
        return {}
    return {"LOCPATH": str(place), "LC_ALL": "de_DE.UTF-8"} if (place / "de_DE.UTF-8").is_dir() else {}


def test_another_day_elsewhere(run_all, whole, german: Mapping[str, str], tmp_path: Path) -> None:
    """Another hash seed, time zone, terminal, number of processors and processes; decimals with a comma.

    All files of all commands, and what `survey` prints as JSON; tables are fitted to the terminal.
    """
    elsewhere = run_all(tmp_path, "two", **_ELSEWHERE, **german)
    assert {name for name in COMMANDS if THOROUGH or name not in SLOW} == set(whole) == set(elsewhere)
    assert whole["survey"]["stdout"].startswith(b"{")
    for name, files in whole.items():
        found = elsewhere[name]
        assert set(files) == set(found), name
        other = [path for path in files if files[path] != found[path] and (path != "stdout" or name == "survey")]
        assert [] == other, name


def test_the_other_machine_writes_decimals_with_a_comma(german: Mapping[str, str]) -> None:
    """Or the tests above would show nothing of it."""
    if not german:
        pytest.skip("no German locale can be made here")
    script = "import locale\nlocale.setlocale(locale.LC_ALL, '')\nprint(locale.str(0.5))"
    done = subprocess.run(["python3", "-c", script], env=dict(german), capture_output=True, check=True, text=True)
    assert "0,5" == done.stdout.strip()
