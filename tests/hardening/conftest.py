"""The helper beside the tests, `commands`, is imported by its plain name; what whole runs write is made once."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from commands import COMMANDS, bytes_in, prepare, run


@pytest.fixture(scope="session")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[bytes, dict[str, bytes]]]:
    """Standard output and files of every command, run to its end."""
    found = {}
    for name, words in COMMANDS.items():
        folder = prepare(tmp_path_factory.mktemp("whole") / name)
        status, out, err = run(words, folder)
        assert status == 0, err
        found[name] = out, bytes_in(folder)
    return found
