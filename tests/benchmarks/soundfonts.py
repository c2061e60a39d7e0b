"""SoundFonts: how fast an instrument speaks, how loud it is, how true, in one SoundFont beside another.

    python tests/benchmarks/soundfonts.py [SOUNDFONT ...]

Without arguments the default SoundFont. One note a line (C5, bassoon C3, velocity 96, 1.5 s, no reverb):
`speaks`  ms from the note-on until the level, in windows of 5 ms, comes within 10 dB of its middle, from 0.5 to 1 s;
`full`    the same within 3 dB;
`level`   dB RMS of that middle against the oboe's;
`off`     cents from equal temperament at A = 440 Hz: the highest bin of a long spectrum near the note, with its
          neighbours fitted by a parabola.
"""

import argparse
import math
from pathlib import Path

import numpy as np

from appui.exact import Fraction
from appui.perform.model import Performance, PerformedNote, PerformedPart, TempoStep
from appui.score.pitch import Pitch
from appui.sound.soundfont import soundfont_path
from appui.sound.synth import RATE, render_blocks

#  General MIDI program (0-based) and key
INSTRUMENTS = {
    "oboe": (68, 72),
    "flute": (73, 72),
    "recorder": (74, 72),
    "clarinet": (71, 72),
    "bassoon": (70, 48),
    "voice": (52, 72),
    "violin": (40, 72),
    "harpsichord": (6, 72),
}
WINDOW = round(0.005 * RATE)


def note(font: Path, program: int, key: int) -> np.ndarray:
    """One note, mono samples."""
    played = PerformedNote(Fraction(0), Fraction(3, 2), 0.0, 1.5, Pitch("C", 0, 4), key, 96)
    part = PerformedPart("one", "One", program, (played,))
    steps = (TempoStep(Fraction(0), 0.0, Fraction(60)),)
    whole = Performance("", (part,), steps, (), Fraction(3, 2), 1.5)
    return np.concatenate(list(render_blocks(whole, font, reverb=False))).mean(axis=1, dtype=np.float64)


def rms(sound: np.ndarray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(sound**2)))


def reaches_ms(sound: np.ndarray, below_db: float) -> float:
    """When the level first comes within so many dB of the middle's."""
    wanted = rms(sound[RATE // 2 : RATE]) * 10 ** (-below_db / 20)
    hop = WINDOW // 5
    starts = range(0, RATE // 2, hop)
    return next(1000 * (at + WINDOW / 2) / RATE for at in starts if rms(sound[at : at + WINDOW]) >= wanted)


def off_cents(sound: np.ndarray, key: int) -> float:
    """How far the fundamental is from where it should be."""
    wanted_hz = 440 * 2 ** ((key - 69) / 12)
    size = 1 << 19
    middle = sound[RATE // 2 : RATE]
    spectrum = np.log(np.abs(np.fft.rfft(middle * np.hanning(len(middle)), size)) + 1e-12)
    low, high = (round(wanted_hz * factor * size / RATE) for factor in (0.96, 1.04))
    top = low + int(np.argmax(spectrum[low:high]))
    left, centre, right = spectrum[top - 1 : top + 2]
    found_hz = (top + (left - right) / (2 * (left - 2 * centre + right))) * RATE / size
    return 1200 * math.log2(found_hz / wanted_hz)


def main() -> None:
    """Print a table a SoundFont."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("soundfonts", nargs="*", type=Path)
    for font in parser.parse_args().soundfonts or [soundfont_path()]:
        print(f"{font.name}\n{'':12}  speaks ms  full ms  level dB  off cents")
        oboe = rms(note(font, *INSTRUMENTS["oboe"])[RATE // 2 : RATE])
        for name, (program, key) in INSTRUMENTS.items():
            sound = note(font, program, key)
            level = 20 * math.log10(rms(sound[RATE // 2 : RATE]) / oboe)
            speaks, full = (reaches_ms(sound, below_db) for below_db in (10, 3))
            print(f"{name:12}  {speaks:9.0f}  {full:7.0f}  {level:8.1f}  {off_cents(sound, key):9.1f}")


if __name__ == "__main__":
    main()
