"""Audio: this tool's renderer and the fluidsynth command line on the same MIDI, SoundFont and settings, in turn.

    python tests/benchmarks/audio.py [SCORE] [--runs 5]

Prints medians in seconds, by the clock and of processor time, the ratios of speeds (1 is as fast as the command line),
and the peak memory of ours.
Both write a 24-bit 44.1 kHz stereo WAV with reverb, without chorus, at gain 0.5; ours passes through a scratch file
to settle its level. Ours is timed from a performance at hand with its libraries loaded, the command line from its
start to its end; both load the SoundFont.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

from appui.sound.soundfont import soundfont_path

DEFAULT = Path(find_spec("music21").origin).parent / "corpus/beethoven/opus18no1/movement1.mxl"
OURS = """
import resource, sys, time
from pathlib import Path
import fluidsynth, numpy, soundfile
from appui.perform.session import Session
from appui.sound.audio import render_audio
session = Session.open(sys.argv[1])
performance = session.perform(session.order(None, repeats=False))
clock, processor = time.perf_counter(), time.process_time()
render_audio(performance, Path(sys.argv[2]))
print(time.perf_counter() - clock, time.process_time() - processor)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""
PEER = "fluidsynth -ni -R 1 -C 0 -g 0.5 -r 44100 -T wav -O s24 -F".split()


def ours(score: str, wav: str) -> tuple[float, float, float]:
    """Seconds by the clock, of processor time, and peak memory in MiB."""
    done = subprocess.run([sys.executable, "-c", OURS, score, wav], check=True, capture_output=True, text=True)
    clock_s, processor_s, memory_mib = map(float, done.stdout.split())
    return clock_s, processor_s, memory_mib


def theirs(midi: str, wav: str) -> tuple[float, float]:
    """Seconds by the clock and of processor time."""
    started, before = time.perf_counter(), os.times()
    subprocess.run([*PEER, wav, str(soundfont_path()), midi], check=True, capture_output=True)
    after = os.times()
    processor_s = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - started, processor_s


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
        pairs = [(ours(words.score, wav), theirs(midi, wav)) for _ in range(words.runs)]
    for place, kind in enumerate(("by the clock", "of processor time")):
        mine, other = (statistics.median(side[place] for side in sides) for sides in zip(*pairs, strict=True))
        print(f"appui {mine:.2f} s, fluidsynth {other:.2f} s {kind}: speed {other / mine:.2f} of the command line")
    print(f"peak memory of appui {max(mine[2] for mine, _ in pairs):.0f} MiB")


if __name__ == "__main__":
    main()
