"""A long run over mutants: how many end in a result, how many are refused, and what else happens.

    python -m tests.fuzz.run --count 20000 --first 0 --jobs 2 --findings FOLDER
    python -m tests.fuzz.run --way notate --count 2000 --findings FOLDER

`--way` is what is done with them (`ways.WAYS`): scores all the way to MIDI, written out in notes, as pages without
sound, as practice tracks, as drills; or plans, styles, charts, sets, cents, exports of results. Each
in a process of its own.
Every mutant that ends in anything but a lawful result or an error of ours is written to the folder with what was said.
The exit status is 1 if there is one.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import select
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ["APPUI_CACHE"] = "off"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from tests.fuzz.laws import LIMIT_S, TooSlowError, guarded
from tests.fuzz.ways import WAYS, Way

AT_ONCE = 50
LONGEST_WAIT_S = 120


def trial(way: str, seed: int, folder: Path, findings: Path) -> str:
    """What became of one mutant."""
    name, make, do = WAYS[way]
    spoilt = make(seed)
    path = folder / name
    path.write_bytes(spoilt.data)
    found, words = apart(lambda: _ended(path, seed, do))
    if words:
        (findings / f"{way}-{seed}{path.suffix}").write_bytes(spoilt.data)
        (findings / f"{way}-{seed}.txt").write_text(f"{' | '.join(spoilt.done)}\n\n{words}", encoding="utf-8")
        return f"FINDING {found} (first: {seed})"
    return found


def _ended(path: Path, seed: int, do: Way) -> tuple[str, str]:
    try:
        return guarded(path, random.Random(seed), do), ""  # noqa: S311 - repeatable on purpose
    except (Exception, TooSlowError) as error:  # noqa: BLE001 - that is what is looked for
        words = "".join(traceback.format_exception(error, limit=-6))
        place = traceback.extract_tb(error.__traceback__)[-1]
        return f"{type(error).__name__} at {Path(place.filename).name}:{place.lineno}", words


def apart(work: Callable[[], tuple[str, str]]) -> tuple[str, str]:
    """What `work` says in a process of its own, which a foreign library may take down or hold up."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        resource.setrlimit(resource.RLIMIT_CPU, (3 * LIMIT_S, 3 * LIMIT_S))
        try:
            with os.fdopen(write, "w") as stream:
                json.dump(work(), stream)
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read) as stream:
        if not select.select([stream], [], [], LONGEST_WAIT_S)[0]:
            os.kill(child, signal.SIGKILL)
        said = stream.read()
    status = os.waitpid(child, 0)[1]
    if os.WIFSIGNALED(status):
        name = signal.Signals(os.WTERMSIG(status)).name
        return f"ended by {name}", f"ended by {name}"
    found, words = json.loads(said or '["ended without a word", "ended without a word"]')
    return found, words


def trials(way: str, first: int, count: int, findings: Path, until: float) -> tuple[Counter[str], float]:
    """What became of some mutants in a row, and the longest time of one in seconds."""
    seen: Counter[str] = Counter()
    longest_s = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            if time.time() > until:
                break
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            found = trial(way, seed, Path(folder), findings)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            longest_s = max(longest_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
            seen[found] += 1
    return seen, longest_s


def run(
    way: str, first: int, count: int, jobs: int, findings: Path, until: float
) -> Iterator[tuple[Counter[str], float]]:
    """The results of all, some at a time."""
    with ProcessPoolExecutor(jobs) as pool:
        futures = [
            pool.submit(trials, way, at, min(AT_ONCE, first + count - at), findings, until)
            for at in range(first, first + count, AT_ONCE)
        ]
        for future in futures:
            yield future.result()


def main() -> None:
    """As the module's head says."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--way", choices=WAYS, default="midi")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--minutes", type=float, default=600)
    parser.add_argument("--findings", type=Path, required=True)
    said = parser.parse_args()
    said.findings.mkdir(parents=True, exist_ok=True)
    total: Counter[str] = Counter()
    longest_s = 0.0
    for seen, slowest_s in run(
        said.way, said.first, said.count, said.jobs, said.findings, time.time() + 60 * said.minutes
    ):
        total += seen
        longest_s = max(longest_s, slowest_s)
        print(f"\r{total.total():7}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for what, count in total.most_common():
        print(f"{count:7}  {what}")
    print(f"{total.total():7}  mutants; the longest took {longest_s:.1f} s of computing")
    sys.exit(any(what.startswith("FINDING") for what in total))


if __name__ == "__main__":
    main()
