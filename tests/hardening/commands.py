"""The commands whose outputs are held against one another, each as (name, words), writing into a folder."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

__all__ = ["COMMANDS", "FERRY", "bytes_in", "environment", "prepare", "run", "start"]

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
    "compare": ("compare", FERRY, "heard", "--at", "oboe.12.1", "--tempo", "100%", "--format", "flac"),
    "accompany": ("accompany", LANTERN, "a.musicxml"),
}


def prepare(folder: Path) -> Path:
    """The folder, made, with the set the command `practice` reads."""
    folder.mkdir(parents=True)
    (folder / "set.toml").write_text(_SET, encoding="utf-8")
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


def bytes_in(folder: Path) -> dict[str, bytes]:
    """What is in a folder and below, by path."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
