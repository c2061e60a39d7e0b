"""README's examples say what the commands print now."""

import os
import re
import shlex
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
#  those that only print; what writes files is slow, and is tried where it is built
EXAMPLES = re.findall(
    r"^\$ appui ((?:survey|styles|embellish) .+)\n((?:(?!```|\$ ).*\n)+)",
    (TOP / "README.md").read_text("utf-8"),
    re.MULTILINE,
)


def test_there_are_examples() -> None:
    """An empty list would make the next test pass with nothing looked at."""
    assert len(EXAMPLES) >= 6


@pytest.mark.parametrize(("words", "shown"), EXAMPLES, ids=[words[:40] for words, _ in EXAMPLES])
def test_an_example_prints_what_is_shown(words: str, shown: str) -> None:
    """Line by line, but for blanks at the ends of lines and of all."""
    found = find_spec("music21")
    assert found is not None
    packages = str(Path(str(found.origin)).parents[1])
    given = [word.replace(".venv/lib/python3*/site-packages", packages) for word in shlex.split(words)]
    wide = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    done = subprocess.run([sys.executable, "-m", "appui", *given], cwd=TOP, env=wide, capture_output=True, check=True)
    printed = "\n".join(line.rstrip() for line in done.stdout.decode().splitlines())
    assert shown.rstrip("\n") == printed.rstrip("\n")
