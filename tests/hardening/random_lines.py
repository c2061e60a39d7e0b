"""Command lines by chance, out of the commands' own tables of options, over odd scores.

    python -m tests.hardening.random_lines [COUNT] [SEED]

Each is run in a copy of this process, in a folder with scores, links, a plan edited by hand and other odd files. What
is found is printed: a traceback, an exit status that means nothing, a file of the player's that is not as it was, a
file begun and left behind. Twelve hundred lines take about twenty minutes.
"""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

import click

from appui.cli.command import READS, WRITES, WRITES_TEXT
from appui.cli.main import cli
from tests.hardening.commands import run_inside

__all__ = ["lines", "make_desk"]

LIMIT_S = 300
#  a sound card and a person at the keyboard are not here
_LEFT_OUT = ("play", "record")
_WORDS = (
    "oboe", "1", "0", "-1", "nan", "x" * 300, "", "100%", "60%", "50%..100%", "72", "1-4", "4", "9-2", "all", "harmony",
    "bach-1753", "tuerk-1789", "oboe.4.1", "4.1", "oboe.4.1=short", "oboe.4.1=leaning 1/2", "a=b", "solo=-6",
    "accompaniment=off", "beats", "3+2", "M2", "-m3", "Bb", "vallotti", "D", "5", "C4-C6", "lean-or-pass", "heavier",
    "é", "../a", "{tempo}", "{x}", "--", "\u202e",
)  # fmt: skip
_ODD = {
    "empty.musicxml": b"",
    "cut.musicxml": b"<score-partwise><part-list>",
    "other.musicxml": b"<html/>",
    "scan.pdf": b"%PDF-1.4\n",
    "picture.musicxml": b"\x89PNG\r\n\x1a\n",
    "latin.abc": "X:1\nT:caf\xe9\nK:C\nC4|".encode("latin-1"),
    "solo.abc": b"X:1\nT:Air\nM:3/4\nL:1/4\nK:G\n{A}G2B|{c}d3|Tc2B|G3|]\n",
    "air.krn": b"**kern\n*M4/4\n=1\n4c\n4d\n2e\n==\n*-\n",
    "loose.krn": b"**kern\n4c\n4d\n",
    "zip.mxl": b"PK\x03\x04rubbish",
    "mine.toml": b'[score]\nfile = "score.musicxml"\n[readings]\n"oboe.4.1" = "short" # mine\n',
    "broken.toml": b"[[[",
    "chart.txt": b"key G minor\n1 i\n5 D7\n",
    "set.toml": b'score = "score.musicxml"\nfolder = "."\nformats = ["mid"]\n[[track]]\nname = "t"\nbars = "4"\n',
    "rows.json": b"[]",
    "cents.txt": b"0\n" * 12,
    os.fsdecode(b"caf\xe9.musicxml"): b"<a/>",
}


def make_desk(folder: Path) -> None:
    """What lies on the player's desk."""
    demo = files("appui.demo")
    for name in ("ferry", "lantern", "weir", "ford"):
        source = Path(str(demo.joinpath(f"{name}.musicxml")))
        (folder / ("score.musicxml" if name == "ferry" else f"{name}.musicxml")).write_bytes(source.read_bytes())
    for name, data in _ODD.items():
        (folder / name).write_bytes(data)
    (folder / "link.musicxml").symlink_to("score.musicxml")
    (folder / "loop.mid").symlink_to("loop.mid")
    (folder / "lost.mid").symlink_to("missing/lost.mid")
    (folder / "folder").mkdir()
    (folder / "scores").mkdir()
    shutil.copy(folder / "lantern.musicxml", folder / "scores" / "a.musicxml")


_KEPT = (*_ODD, "score.musicxml", "lantern.musicxml", "weir.musicxml", "ford.musicxml", "scores/a.musicxml")
_TARGETS = ("out{}", "folder", "missing/out{}", "link.musicxml", "loop.mid", "lost.mid", "/dev/null", "/proc/out{}")
_SUFFIXES = (".mid", ".musicxml", ".html", ".svg", ".toml", ".txt", ".json", ".csv", ".abc", ".flac", "")


def _file(chance: random.Random, *, written: bool) -> str:
    if not written:
        return chance.choice((*_KEPT, "score.musicxml", "score.musicxml", "score.musicxml", "scores", "nothing.xml"))
    name = chance.choice((*_TARGETS, "out{}", "out{}", "out{}", *_KEPT[:3], "mine.toml", "score.musicxml"))
    return name.format(chance.choice(_SUFFIXES))


def _value(parameter: click.Parameter, chance: random.Random) -> str:
    kind = parameter.type
    if kind in (READS, WRITES, WRITES_TEXT):
        return _file(chance, written=kind is not READS)
    if isinstance(kind, click.Choice) and chance.random() < 0.9:
        return chance.choice([str(each) for each in kind.choices])
    if isinstance(kind, click.types.IntParamType | click.types.FloatParamType) and chance.random() < 0.9:
        return chance.choice(("0", "1", "2", "3", "4", "-1", "50", "415", "1700"))
    return chance.choice(_WORDS)


def _line(name: str, command: click.Command, chance: random.Random) -> list[str]:
    words = [name]
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            if chance.random() < 0.15:
                words.append(chance.choice([*parameter.opts, *parameter.secondary_opts]))
                words += [] if parameter.is_flag else [_value(parameter, chance)]
        else:
            count = 1 if parameter.nargs == 1 else chance.choice((0, 1, 1, 2))
            words += [_value(parameter, chance) for _ in range(count) if parameter.required or chance.random() < 0.9]
    # short stretches: what is looked for is not the sound
    if any("--bars" in parameter.opts for parameter in command.params) and "--bars" not in words:
        words += ["--bars", "4"]
    # processes of its own would outlive a copy that is ended
    return [*words, "--jobs", "1"] if name == "batch" and "--jobs" not in words else words


def lines(count: int, seed: int) -> list[list[str]]:
    """So many command lines; the same for the same seed."""
    assert isinstance(cli, click.Group)
    context = click.Context(cli)
    names = [name for name in cli.list_commands(context) if name not in _LEFT_OUT]
    commands = {name: found for name in names if (found := cli.get_command(context, name)) is not None}
    chance = random.Random(seed)  # noqa: S311 - nothing secret
    return [_line(name, commands[name], chance) for name in (chance.choice(names) for _ in range(count))]


def _digests(desk: Path) -> dict[str, str]:
    # a file without a byte in it has nothing to lose
    there = {name: desk / name for name in _KEPT if (desk / name).is_file() and (desk / name).stat().st_size}
    return {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in there.items()}


def _faults(desk: Path, words: Sequence[str]) -> tuple[int, list[str]]:
    before = _digests(desk)
    status, said = run_inside(tuple(words), desk, most_s=LIMIT_S)
    found = [said[-600:]] if "Traceback" in said or status not in (0, 1, 2) else []
    for name, digest in before.items():
        path, kept = desk / name, [*desk.glob(f"{name}.before*")]
        there = [each for each in (path, *kept) if each.is_file()]
        if all(hashlib.sha256(each.read_bytes()).hexdigest() != digest for each in there):
            found.append(f"{name} is lost")
    found += [f"{path.name} is left behind" for path in desk.rglob(".appui-*") if path.is_file()]
    return status, found


def main(count: int, seed: int) -> int:
    """Run them and print what is found; the number of lines with a finding."""
    ended: Counter[int] = Counter()
    bad = 0
    started = time.monotonic()
    for number, words in enumerate(lines(count, seed)):
        with tempfile.TemporaryDirectory() as name:
            desk = Path(name) / "desk"
            desk.mkdir()
            make_desk(desk)
            status, found = _faults(desk, words)
        ended[status] += 1
        if found:
            bad += 1
            print(f"line {number}: appui {' '.join(map(repr, words))}", *found, sep="\n    ", flush=True)
    print(f"{count} lines, seed {seed}: {bad} with a fault; ended {dict(ended)}; {time.monotonic() - started:.0f} s")
    return bad


if __name__ == "__main__":
    os.environ.setdefault("APPUI_CACHE", "off")
    numbers = [int(word) for word in sys.argv[1:]]
    sys.exit(1 if main(*(numbers + [1000, 1][len(numbers) :])) else 0)
