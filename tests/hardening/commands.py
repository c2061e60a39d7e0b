"""The commands whose outputs are held against one another, each as (name, words), writing into a folder.

    python -m tests.hardening.commands FOLDER [two]

runs all of them in one process, each in a folder of its own there; what it prints goes to `stdout` beside. With `two`
the batch has two processes.
"""

from __future__ import annotations

import contextlib
import locale
import os
import re
import resource
import select
import signal
import subprocess
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import NoReturn

__all__ = [
    "COMMANDS",
    "FERRY",
    "SLOW",
    "THOROUGH",
    "bytes_in",
    "environment",
    "prepare",
    "run",
    "run_inside",
    "start",
    "timeless",
]

#  more commands, more kills: minutes instead of seconds
THOROUGH = "APPUI_THOROUGH" in os.environ
FERRY = str(files("appui.demo").joinpath("ferry.musicxml"))
LANTERN = str(files("appui.demo").joinpath("lantern.musicxml"))
_SET = f"""score = "{FERRY}"
folder = "."
formats = ["flac", "mid"]
[[track]]
name = "one {{tempo}}"
bars = "1-2"
tempo = "80%..100%"
steps = 3
click = "beats"
"""
COMMANDS: dict[str, tuple[str, ...]] = {
    "survey": ("survey", FERRY, "--json", "--plan-out", "plan.toml", "--harmony-out", "guess.txt"),
    "render": ("render", FERRY, "a.mid", "a.flac", "--bars", "1-2"),
    "practice": ("practice", "--set", "set.toml"),
    "click": ("click", FERRY, "a.mid", "--bars", "1-2"),
    "accompany": ("accompany", LANTERN, "a.musicxml"),
    "notate": ("notate", FERRY, "a.musicxml"),
    "page": ("page", FERRY, "a.html", "--bars", "12", "--tempo", "100%", "--folder"),
    "sheet": ("drill", "heavier", "--sheet", "sheet", "--trials", "2", "--seed", "7"),
    "batch": ("batch", "scores", "out", "--do", "render", "--jobs", "1"),
    "compare": ("compare", FERRY, "heard", "--at", "oboe.12.1", "--tempo", "100%", "--format", "flac"),
    "embellish": ("embellish", FERRY, "--out", "heard", "--format", "mid", "--plan-out", "plan.toml"),
    "pdf": ("notate", FERRY, "a.pdf"),
    "whole page": ("page", FERRY, "a.html", "--bars", "1-4", "--style", "tuerk-1789"),
    "drill page": ("drill", "longer", "--page", "drill.html", "--trials", "3", "--seed", "7"),
}
#  left out where seconds count
SLOW = ("compare", "embellish", "pdf", "whole page", "drill page")
#  by the clock, so different every time
_SECONDS = {"report.jsonl": rb'"seconds": [\d.]+', "report.txt": rb" +\d+\.\d\d"}


def prepare(folder: Path) -> Path:
    """The folder, made, with the set the command `practice` reads and the scores of `batch`."""
    (folder / "scores").mkdir(parents=True)
    (folder / "set.toml").write_text(_SET, encoding="utf-8")
    for name in ("a", "b"):
        (folder / "scores" / f"{name}.musicxml").write_bytes(Path(FERRY).read_bytes())
    return folder


def environment(**more: str) -> dict[str, str]:
    """The environment of a command: the tests' own, with this source first."""
    return dict(os.environ) | {"APPUI_CACHE": "off", "PYTHONPATH": os.pathsep.join(sys.path)} | more


def start(words: tuple[str, ...], folder: Path, env: Mapping[str, str] | None = None) -> subprocess.Popen[bytes]:
    """A command under way."""
    return subprocess.Popen(
        [sys.executable, "-m", "appui", *words],
        cwd=folder,
        env=env or environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )


def run(words: tuple[str, ...], folder: Path, env: Mapping[str, str] | None = None) -> tuple[int, bytes, str]:
    """Exit status, standard output and standard error of a command."""
    with start(words, folder, env) as process:
        out, err = process.communicate()
    return process.returncode, out, err.decode()


def run_inside(words: tuple[str, ...], folder: Path, *, most_bytes: int = 0, most_s: int = 0) -> tuple[int, str]:
    """Exit status and standard error of a command in a copy of this process, where nothing is imported anew.

    With `most_bytes` no file may be longer; after `most_s` seconds it is ended. Nobody is at the keyboard.
    """
    from appui.cli.main import main

    read, write = os.pipe()
    with warnings.catch_warnings():
        # where there are threads a copy is a risk, and they are idle here
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        os.close(read)
        os.setsid()
        signal.alarm(most_s)
        _inside(main, words, folder, write, most_bytes)
    os.close(write)
    return _ended(child, read)


def _ended(child: int, errors: int) -> tuple[int, str]:
    """How a process ends and what it has said; what it has started itself ends with it."""
    said, status = b"", None
    with open(errors, "rb", buffering=0) as stream:
        while True:
            if select.select([stream], [], [], 0.1)[0]:
                if not (block := stream.read(65_536)):
                    break
                said += block
            elif status is None and (found := os.waitpid(child, os.WNOHANG)) != (0, 0):
                status = found[1]
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(child, signal.SIGKILL)
    status = os.waitpid(child, 0)[1] if status is None else status
    return os.waitstatus_to_exitcode(status), said.decode(errors="replace")


def _inside(main: Callable[[], None], words: tuple[str, ...], folder: Path, errors: int, most_bytes: int) -> NoReturn:
    """The command in the copy, which ends with it."""
    status: object = 70
    try:
        os.dup2(errors, 2)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.stdout, sys.stderr = (open(number, "w", encoding="utf-8", closefd=False) for number in (1, 2))  # noqa: SIM115
        os.chdir(folder)
        tempfile.tempdir = str(folder.parent)
        sys.argv = ["appui", *words]
        if most_bytes:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
        main()
        status = 0
    except SystemExit as leaving:
        status = leaving.code or 0
    except BaseException:  # noqa: BLE001 - the parent looks for it
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(status if isinstance(status, int) else 1)


def bytes_in(folder: Path) -> dict[str, bytes]:
    """What is in a folder and below, by path."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def timeless(path: str, data: bytes) -> bytes:
    """What is in a file, without the seconds a report says its work has taken."""
    pattern = _SECONDS.get(Path(path).name)
    return re.sub(pattern, b"", data) if pattern else data


def _run_all(root: Path, *, two: bool) -> None:
    from appui.cli.main import cli

    # as a program does that shows numbers in the player's language: from here on C libraries write them so
    locale.setlocale(locale.LC_ALL, "")
    if two:
        os.cpu_count = lambda: 1
    for name, words in COMMANDS.items():
        if name in SLOW and not THOROUGH:
            continue
        os.chdir(prepare(root / name))
        with Path("stdout").open("w", encoding="utf-8") as out, contextlib.redirect_stdout(out):
            cli.main([*words[:-1], "2"] if two and name == "batch" else list(words), standalone_mode=False)


if __name__ == "__main__":
    _run_all(Path(sys.argv[1]), two=sys.argv[2:] == ["two"])
