"""A long run over mutants: how many end in a result, how many are refused, and what else happens.

    python tests/fuzz/run.py --count 20000 --first 0 --jobs 2 --findings FOLDER

Every mutant that ends in anything but a lawful result or an error of ours is written to the folder with what was said.
The exit status is 1 if there is one.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ["APPUI_CACHE"] = "off"
os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).parent))

from laws import TooSlowError, guarded
from mutants import corpus, mutant

AT_ONCE = 50


def trial(seed: int, folder: Path, findings: Path) -> str:
    """What became of one mutant."""
    spoilt = mutant(seed, corpus())
    path = folder / "mutant.musicxml"
    path.write_bytes(spoilt.data)
    try:
        return guarded(path, random.Random(seed))  # noqa: S311 - repeatable on purpose
    except (Exception, TooSlowError) as error:  # noqa: BLE001 - that is what is looked for
        (findings / f"{seed}.musicxml").write_bytes(spoilt.data)
        words = "".join(traceback.format_exception(error, limit=-6))
        (findings / f"{seed}.txt").write_text(f"{' | '.join(spoilt.done)}\n\n{words}", encoding="utf-8")
        place = traceback.extract_tb(error.__traceback__)[-1]
        return f"FINDING {type(error).__name__} at {Path(place.filename).name}:{place.lineno} (first: {seed})"


def trials(first: int, count: int, findings: Path, until: float) -> tuple[Counter[str], float]:
    """What became of some mutants in a row, and the longest time of one in seconds."""
    seen: Counter[str] = Counter()
    longest_s = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            if time.time() > until:
                break
            started = time.process_time()
            found = trial(seed, Path(folder), findings)
            longest_s = max(longest_s, time.process_time() - started)
            seen[found] += 1
    return seen, longest_s


def run(first: int, count: int, jobs: int, findings: Path, until: float) -> Iterator[tuple[Counter[str], float]]:
    """The results of all, some at a time."""
    with ProcessPoolExecutor(jobs) as pool:
        futures = [
            pool.submit(trials, at, min(AT_ONCE, first + count - at), findings, until)
            for at in range(first, first + count, AT_ONCE)
        ]
        for future in futures:
            yield future.result()


def main() -> None:
    """As the module's head says."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--minutes", type=float, default=600)
    parser.add_argument("--findings", type=Path, required=True)
    said = parser.parse_args()
    said.findings.mkdir(parents=True, exist_ok=True)
    total: Counter[str] = Counter()
    longest_s = 0.0
    for seen, slowest_s in run(said.first, said.count, said.jobs, said.findings, time.time() + 60 * said.minutes):
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
