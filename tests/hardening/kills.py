"""Commands killed outright at moments of chance, and what they leave.

    python -m tests.hardening.kills --times 20 --seed 1 [NAME...]

For each command of `commands.COMMANDS`, and the drill at the terminal: every file under the name of an output is what a
whole run writes or what was there before, the database opens with no answer lost, the next run ends as a whole run
does, and nothing of the killed one is left in the temporary folder. The exit status is 1 if there is a fault.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from appui.batch.report import REPORT, read_rows
from appui.drill.store import Store
from appui.practice.deliver import read_index
from tests.hardening.commands import COMMANDS, bytes_in, environment, prepare, run, start, timeless

__all__ = ["OLD", "drill_faults", "faults", "finished", "kill"]

OLD = b"what was there before"
#  passing files, and what grows by lines
_LOOSE = (".appui-",)
_DRILL = ("drill", "lean-or-pass", "--store", "results", "--seed", "7", "--trials", "20")


def kill(words: tuple[str, ...], folder: Path, pause_s: float, *, files: int = 0) -> bool:
    """Kill a command once so many files more have appeared and a pause is over; whether it still ran."""
    env = environment(TMPDIR=str(folder.parent))
    before = len(bytes_in(folder))
    with start(words, folder, env) as process:
        while process.poll() is None and len(_names(folder)) < before + files:
            time.sleep(0.002)
        with suppress(subprocess.TimeoutExpired):
            process.wait(pause_s)
        killed = process.poll() is None
        if killed:
            os.killpg(process.pid, signal.SIGKILL)
    return killed


def _names(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def faults(folder: Path, whole: dict[str, bytes]) -> list[str]:
    """What is wrong with what a killed run has left."""
    found = []
    for path, data in bytes_in(folder).items():
        name = Path(path).name
        if name.startswith(_LOOSE):
            continue
        if name == REPORT:
            # whole lines, but the last
            found += [f"{path}: {line!r}" for line in data.splitlines(keepends=True)[:-1] if not _is_json(line)]
            read_rows((folder / path).parent)
        elif name == "index.json":
            found += [] if _is_json(data) and read_index(folder / path) is not None else [f"{path}: no JSON"]
        elif timeless(path, data) not in (whole.get(path), OLD):
            found.append(f"{path}: {len(data)} bytes, {len(whole.get(path, b''))} in a whole run")
    return found


def _is_json(data: bytes) -> bool:
    try:
        json.loads(data)
    except ValueError:
        return False
    return True


def finished(words: tuple[str, ...], folder: Path, whole: dict[str, bytes]) -> list[str]:
    """What is otherwise after another run than after a whole one; nothing of the killed run may lie about."""
    status, _, err = run(words, folder, environment(TMPDIR=str(folder.parent)))
    left = {
        path: timeless(path, data)
        for path, data in bytes_in(folder).items()
        # fresh ones may be of a run under way
        if not Path(path).name.startswith(_LOOSE)
    }
    found = [err] if status else []
    found += [f"{path} is otherwise" for path in sorted(set(whole) | set(left)) if whole.get(path) != left.get(path)]
    return found + [f"{path} is left" for path in folder.parent.glob("appui-*")]


# the drill at the terminal


def drill_faults(folder: Path, answers: int) -> list[str]:
    """Answer a drill by lines, kill it after so many, and look into its database."""
    env = environment(TMPDIR=str(folder.parent), PYTHONUNBUFFERED="1")
    command = [sys.executable, "-m", "appui", *_DRILL]
    said = 0
    with subprocess.Popen(
        command, cwd=folder, env=env, stdin=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    ) as process:
        assert process.stdin is not None
        assert process.stderr is not None
        process.stdin.write(b"1\n" * (answers + 1))
        process.stdin.flush()
        for line in process.stderr:
            # said after the answer is kept
            said += any(word in line for word in (b"   right. ", b"   no. "))
            if said == answers:
                break
        os.killpg(process.pid, signal.SIGKILL)
    with Store.open(folder / "results") as store:
        kept = len(store.rows())
    again = run(("progress", "--store", "results"), folder, env)
    found = [f"{kept} of {said} answers"] if kept < said else []
    return found + ([again[2]] if again[0] else [])


def _drills(times: int, chance: random.Random, root: Path) -> Iterator[str]:
    folder = prepare(root / "drill" / "one")
    for _ in range(times):
        yield from drill_faults(folder, chance.randint(1, 4))


def _kills(name: str, times: int, chance: random.Random, root: Path) -> Iterator[str]:
    words, folder = COMMANDS[name], prepare(root / name / "whole")
    began = time.monotonic()
    status, _, err = run(words, folder)
    took_s = time.monotonic() - began
    assert status == 0, err
    whole = {path: timeless(path, data) for path, data in bytes_in(folder).items()}
    killed = 0
    for number in range(times):
        folder = prepare(root / name / str(number) / "in")
        for path in whole:
            if chance.random() < 0.3 and not (folder / path).exists() and Path(path).name not in (REPORT, "index.json"):
                (folder / path).parent.mkdir(parents=True, exist_ok=True)
                (folder / path).write_bytes(OLD)
        killed += kill(words, folder, chance.uniform(0.3, 1.05) * took_s)
        yield from faults(folder, whole)
        yield from finished(words, folder, whole)
    print(f"{name}: {took_s:.1f} s, killed {killed} of {times}", flush=True)


def main() -> None:
    """As the module's head says."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", default=[*COMMANDS, "drill"])
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    chance = random.Random(said.seed)  # noqa: S311 - repeatable on purpose
    wrong = 0
    with tempfile.TemporaryDirectory() as root:
        for name in said.names:
            at = (
                _drills(said.times, chance, Path(root))
                if name == "drill"
                else _kills(name, said.times, chance, Path(root))
            )
            for fault in at:
                wrong += 1
                print(f"FAULT {name}: {fault}", flush=True)
    print(f"{wrong} faults")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
