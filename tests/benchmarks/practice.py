"""Practice: a set of 30 tracks (5 passages, 6 tempos) against the fluidsynth command line rendering each track whole.

    python tests/benchmarks/practice.py [SCORE] [--times 4] [--runs 3]

Both make 24-bit 44.1 kHz stereo WAV files with reverb and clicks, from one SoundFont; ours is timed from the start of
a fresh process to its end, reading the score, measuring loudness and true peak and writing tags' index with it. The
command line gets the MIDI files of the same tracks, one after another, each in a process of its own. Prints medians in
seconds, by the clock and of processor time, the ratio, the peak memory of ours, and a second run with nothing changed.
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from appui.demo import demo_score
from appui.score.read import read_score
from appui.sound.soundfont import soundfont_path

PEER = "fluidsynth -ni -R 1 -C 0 -g 0.5 -r 44100 -T wav -O s24 -F".split()
OURS = """
import resource, sys
from pathlib import Path
from appui.practice.week import make_week, read_week
make_week(read_week(Path(sys.argv[1])))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""
SET = """
score = "{score}"
folder = "{folder}"
formats = ["{suffix}"]
click = "beats"
times = {times}
tempo = "50%..100%"
steps = 6

[[track]]
name = "{{bars}} {{tempo}}"
bars = {bars}
"""


def timed(command: list[str]) -> tuple[float, float, str]:
    """Seconds by the clock, of processor time, and what was printed."""
    started, before = time.perf_counter(), os.times()
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    after = os.times()
    processor_s = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - started, processor_s, done.stdout


def passages(score: Path) -> list[str]:
    """Five passages of equal length over the whole score."""
    names = [bar.number for bar in read_score(score).bars]
    size = max(1, len(names) // 5)
    return [f"{names[n * size]}-{names[n * size + size - 1]}" for n in range(5)]


def main() -> None:
    """Time both in turn, so that a noisy machine is noisy for both."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("score", nargs="?", type=Path, default=demo_score())
    parser.add_argument("--times", type=int, default=4)
    parser.add_argument("--runs", type=int, default=3)
    words = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        score = shutil.copy(words.score, folder)
        for suffix in ("wav", "mid"):
            text = SET.format(
                score=Path(score).name, folder=suffix, suffix=suffix, times=words.times, bars=passages(words.score)
            )
            (folder / f"{suffix}.toml").write_text(text)
        command = [sys.executable, "-c", OURS]
        subprocess.run([*command, str(folder / "mid.toml")], check=True, capture_output=True)
        files = sorted((folder / "mid").glob("*.mid"))
        rows = []
        for _ in range(words.runs):
            shutil.rmtree(folder / "wav", ignore_errors=True)
            mine = timed([*command, str(folder / "wav.toml")])
            again = timed([*command, str(folder / "wav.toml")])
            other = [timed([*PEER, str(folder / "x.wav"), str(soundfont_path()), str(file)]) for file in files]
            rows.append((mine, again, tuple(sum(each[n] for each in other) for n in (0, 1))))
        print(f"{len(files)} tracks, {os.cpu_count()} cores, {words.runs} runs")
    for place, kind in enumerate(("by the clock", "of processor time")):
        mine, again, other = (statistics.median(row[side][place] for row in rows) for side in range(3))
        print(f"appui {mine:.2f} s, fluidsynth {other:.2f} s {kind}: {other / mine:.2f} times as fast")
    print(f"nothing changed: {statistics.median(row[1][0] for row in rows):.2f} s")
    print(f"peak memory of appui {max(float(row[0][2]) for row in rows):.0f} MiB")


if __name__ == "__main__":
    main()
