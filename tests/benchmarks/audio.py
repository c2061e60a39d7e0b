"""Audio: this tool's renderer and the fluidsynth command line on the same MIDI, SoundFont and settings, in turn.

    python tests/benchmarks/audio.py [SCORE] [--runs 5]

Prints medians in seconds, the ratio of speeds (1 is as fast as the command line), and the peak memory of ours.
Both write a 24-bit 44.1 kHz stereo WAV with reverb, without chorus, at gain 0.5; ours passes through a scratch file
to settle its level. Ours is timed from a performance at hand with its libraries loaded, the command line from its
start to its end; both load the SoundFont.
"""

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

from appui.sound.soundfont import soundfont_path

DEFAULT = Path(find_spec("music21").origin).parent / "corpus/beethoven/opus18no1/movement1.mxl"
OURS = (
    "import resource, sys, time; from pathlib import Path; from appui.perform.session import Session; "
    "from appui.sound.audio import render_audio; s = Session.open(sys.argv[1]); "
    "p = s.perform(s.order(None, repeats=False)); import numpy, soundfile, fluidsynth; t = time.perf_counter(); "
    "render_audio(p, Path(sys.argv[2])); "
    "print(time.perf_counter() - t, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
)


def main() -> None:
    """Time both in turn, so that a noisy machine is noisy for both."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("score", nargs="?", default=str(DEFAULT))
    parser.add_argument("--runs", type=int, default=5)
    words = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = str(Path(folder) / "x.mid"), str(Path(folder) / "x.wav")
        render = [sys.executable, "-m", "appui", "render", words.score, midi, "--no-repeats"]
        subprocess.run(render, check=True, capture_output=True)
        peer = [
            "fluidsynth",
            "-ni",
            "-F",
            wav,
            "-R",
            "1",
            "-C",
            "0",
            "-g",
            "0.5",
            "-r",
            "44100",
            "-T",
            "wav",
            "-O",
            "s24",
        ]
        ours, theirs, memory = [], [], []
        for _ in range(words.runs):
            mine = [sys.executable, "-c", OURS, words.score, wav]
            done = subprocess.run(mine, check=True, capture_output=True, text=True)
            seconds, peak = map(float, done.stdout.split())
            ours.append(seconds)
            memory.append(peak)
            started = time.perf_counter()
            subprocess.run([*peer, str(soundfont_path()), midi], check=True, capture_output=True)
            theirs.append(time.perf_counter() - started)
    mine, other = statistics.median(ours), statistics.median(theirs)
    print(f"appui {mine:.2f} s, fluidsynth {other:.2f} s: speed {other / mine:.2f} of the command line")
    print(f"peak memory {max(memory):.0f} MB")


if __name__ == "__main__":
    main()
