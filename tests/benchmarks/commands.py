"""Whole processes side by side on one score: `appui survey`, `appui render out.mid`, verovio and music21 to MIDI.

    python tests/benchmarks/commands.py [SCORE] [--runs 5]

Prints medians in seconds and the ratios that the project promises: at most 0.5 of verovio, at most 1/12 of music21.
"""

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

DEFAULT = Path(find_spec("music21").origin).parent / "corpus/beethoven/opus18no1/movement1.mxl"
VEROVIO = (
    "import sys, verovio; t = verovio.toolkit(); t.loadFile(sys.argv[1]); "
    "open(sys.argv[2], 'w').write(t.renderToMIDI())"
)
MUSIC21 = "import sys, music21; music21.converter.parse(sys.argv[1], forceSource=True).write('midi', sys.argv[2])"


def main() -> None:
    """Time the peers in turn, so that a noisy machine is noisy for all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("score", nargs="?", default=str(DEFAULT))
    parser.add_argument("--runs", type=int, default=5)
    words = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        out = str(Path(folder) / "out.mid")
        appui = [sys.executable, "-m", "appui"]
        peers = {
            "appui survey": [*appui, "survey", words.score],
            "appui render": [*appui, "render", words.score, out, "--no-repeats"],
            "appui --help": [*appui, "--help"],
            "verovio": [sys.executable, "-c", VEROVIO, words.score, out],
            "music21": [sys.executable, "-c", MUSIC21, words.score, out],
        }
        taken = {name: [] for name in peers}
        for turn in range(words.runs):
            for name, command in peers.items():
                if name == "music21" and turn >= 3:
                    continue  # three of its runs tell enough
                started = time.perf_counter()
                subprocess.run(command, check=True, capture_output=True)
                taken[name].append(time.perf_counter() - started)
    medians = {name: statistics.median(times) for name, times in taken.items()}
    for name, seconds in medians.items():
        against = f"  {seconds / medians['verovio']:.2f} of verovio  1/{medians['music21'] / seconds:.0f} of music21"
        print(f"{name:14} {seconds:7.2f} s{against}")


if __name__ == "__main__":
    main()
