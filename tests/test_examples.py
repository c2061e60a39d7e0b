"""Every example printed in the README and the manual is run, and prints what is shown.

    python -m tests.test_examples      prints all examples anew into the pages, after a change of what is printed

An example is a block of a page that says what it is: ``console`` holds commands after ``$`` with what they print, run
in order; ``python`` a program, and the ``text`` block right after it what it prints; ``toml``, ``abc`` or ``text`` with
a name is a file to save. All blocks of a page are run in one folder, where the demo's scores lie as `appui demo` leaves
them. Commands run in this process, at a terminal of 80 columns.
"""

from __future__ import annotations

import io
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from importlib.util import find_spec
from pathlib import Path

import pytest

from appui.cache import VARIABLE
from appui.cli.main import main
from appui.demo import bare_andante, demo_score, figured_sonata, lead_sheet
from appui.manual.pages import PAGES

TOP = Path(__file__).parents[1]
MANUAL = TOP / "src" / "appui" / "manual"
FILES = {"README": TOP / "README.md"} | {name: MANUAL / f"{name}.md" for name in PAGES}
WIDTH = "80"
#  what opens the block, what is in it; and what a program printed, in the block after it
BLOCK = re.compile(
    r"^```(?P<kind>console|python|(?:toml|abc|text) (?P<file>\S+))\n(?P<body>.*?)^```\n"
    r"(?:\n```text\n(?P<printed>.*?)^```\n)?",
    re.MULTILINE | re.DOTALL,
)


def anew(text: str, folder: Path) -> str:
    """A page's text with what its examples print now; they are run in `folder`."""
    _demo(folder / "appui-demo")
    done, last = [], 0
    with chdir(folder):
        for found in BLOCK.finditer(text):
            done += [text[last : found.start()], _block(found)]
            last = found.end()
    return "".join([*done, text[last:]])


def _block(found: re.Match[str]) -> str:
    body = found["body"]
    if found["file"]:
        Path(found["file"]).write_text(body, encoding="utf-8")
        return found[0]
    if found["kind"] == "python":
        return f"```python\n{body}```\n\n```text\n{_program(body)}```\n"
    commands = [line for line in body.splitlines() if line.startswith("$ ")]
    return "```console\n" + "".join(f"{command}\n{_command(command)}" for command in commands) + "```\n"


def _demo(folder: Path) -> None:
    folder.mkdir()
    for score in (demo_score(), bare_andante(), figured_sonata(), lead_sheet()):
        (folder / score.name).write_bytes(score.read_bytes())


def _command(line: str) -> str:
    """What a command prints, on standard output and standard error, as it stands on the screen."""
    music21 = find_spec("music21")
    assert music21 is not None
    corpus = str(Path(str(music21.origin)).parent / "corpus")
    words = shlex.split(line.removeprefix("$ ").replace("$CORPUS", corpus))
    with _shown() as shown:
        sys.argv = words
        try:
            main()
        except SystemExit as leaving:
            if leaving.code:
                shown.write(f"(exit status {leaving.code})\n")
    return _plain(shown)


def _program(body: str) -> str:
    with _shown() as shown:
        exec(compile(body, "example", "exec"), {"__name__": "example"})  # noqa: S102 - our own pages
    return _plain(shown)


@contextmanager
def _shown() -> Iterator[io.StringIO]:
    """What is printed meanwhile."""
    argv, shown = sys.argv, io.StringIO()
    try:
        with redirect_stdout(shown), redirect_stderr(shown):
            yield shown
    finally:
        sys.argv = argv


def _plain(shown: io.StringIO) -> str:
    lines = [line.rstrip() for line in shown.getvalue().strip("\n").splitlines()]
    return "".join(f"{line}\n" for line in lines)


@pytest.fixture
def kept(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """One cache for all pages, and a terminal's width."""
    monkeypatch.setenv(VARIABLE, str(tmp_path_factory.getbasetemp() / "cache"))
    monkeypatch.setenv("COLUMNS", WIDTH)


@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize("name", FILES)
def test_examples_print_what_is_shown(name: str, tmp_path: Path) -> None:
    """What a reader types gives what the page says; `python -m tests.test_examples` prints them anew."""
    text = FILES[name].read_text("utf-8")
    assert text == anew(text, tmp_path)


def test_there_are_examples() -> None:
    """An empty list would make the test above pass with nothing looked at."""
    found = [match["kind"] for file in FILES.values() for match in BLOCK.finditer(file.read_text("utf-8"))]
    assert found.count("console") >= 20
    assert found.count("python") >= 3


@pytest.mark.usefixtures("kept")
def test_a_wrong_example_is_seen(tmp_path: Path) -> None:
    """The check catches what is printed otherwise than shown."""
    text = "```console\n$ appui --version\nappui, version 7\n```\n"
    assert text != anew(text, tmp_path)


def _print_anew() -> None:
    with tempfile.TemporaryDirectory() as base:
        os.environ |= {VARIABLE: f"{base}/cache", "COLUMNS": WIDTH}
        for name, file in FILES.items():
            text = file.read_text("utf-8")
            folder = Path(base, name)
            folder.mkdir()
            fresh = anew(text, folder)
            if fresh != text:
                file.write_text(fresh, encoding="utf-8")
                sys.stdout.write(f"{file.relative_to(TOP)} printed anew\n")


if __name__ == "__main__":
    _print_anew()
