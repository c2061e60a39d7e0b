"""SoundFonts: how fast an instrument speaks, how loud it is, how true, in one SoundFont beside another.

    python -m tests.benchmarks.soundfonts [SOUNDFONT ...]

Without arguments the default SoundFont. One note a line (C5, bassoon C3, velocity 96, 1.5 s, no reverb):
`speaks`  ms from the note-on until the level, in windows of 5 ms, comes within 10 dB of its middle, from 0.5 to 1 s;
`full`    the same within 3 dB;
`level`   dB RMS of that middle against the oboe's;
`steady`  dB between the loudest and the softest 50 ms from 0.5 to 1.4 s: beating, vibrato, decay or a loop that jumps;
`law`     the most that velocities 32, 64 and 120 lie beside 40 log10(v / 127) against each other, dB;
`off`     cents from equal temperament at A = 440 Hz, of the samples as they are: the highest bin of a long spectrum
          near the note, with its neighbours fitted by a parabola (`intonation.py` has the whole compass).
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
    "viola": (41, 60),
    "violoncello": (42, 48),
    "strings": (48, 60),
    "harpsichord": (6, 72),
    "piano": (0, 72),
}
WINDOW = round(0.005 * RATE)


def note(font: Path, program: int, key: int, velocity: int = 96) -> np.ndarray:
    """One note, mono samples, as they are."""
    played = PerformedNote(Fraction(0), Fraction(3, 2), 0.0, 1.5, Pitch("C", 0, 4), key, velocity)
    part = PerformedPart("one", "One", program, (played,))
    steps = (TempoStep(Fraction(0), 0.0, Fraction(60)),)
    whole = Performance("", (part,), steps, (), Fraction(3, 2), 1.5, raw_samples=True)
    samples: np.ndarray = np.concatenate(list(render_blocks(whole, font, reverb=False))).mean(axis=1, dtype=np.float64)
    return samples


def rms(sound: np.ndarray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(sound**2)))


def reaches_ms(sound: np.ndarray, below_db: float) -> float:
    """When the level first comes within so many dB of the middle's."""
    wanted = rms(sound[RATE // 2 : RATE]) * 10 ** (-below_db / 20)
    hop = WINDOW // 5
    starts = range(0, RATE // 2, hop)
    return next(1000 * (at + WINDOW / 2) / RATE for at in starts if rms(sound[at : at + WINDOW]) >= wanted)


def unsteady_db(sound: np.ndarray) -> float:
    """How far the level moves while the note is held."""
    pieces = [rms(sound[at : at + RATE // 20]) for at in range(RATE // 2, round(1.4 * RATE), RATE // 20)]
    return 20 * math.log10(max(pieces) / min(pieces))


def law_db(font: Path, program: int, key: int) -> float:
    """The most that levels lie beside what their velocities say."""
    beside = [
        20 * math.log10(rms(note(font, program, key, velocity)[:RATE])) - 40 * math.log10(velocity / 127)
        for velocity in (32, 64, 120)
    ]
    return max(beside) - min(beside)


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
        print(f"{font.name}\n{'':12}  speaks ms  full ms  level dB  steady dB  law dB  off cents")
        oboe = rms(note(font, *INSTRUMENTS["oboe"])[RATE // 2 : RATE])
        for name, (program, key) in INSTRUMENTS.items():
            sound = note(font, program, key)
            level = 20 * math.log10(rms(sound[RATE // 2 : RATE]) / oboe)
            speaks, full = (reaches_ms(sound, below_db) for below_db in (10, 3))
            steady, law = unsteady_db(sound), law_db(font, program, key)
            print(
                f"{name:12}  {speaks:9.0f}  {full:7.0f}  {level:8.1f}  {steady:9.1f}  {law:6.2f}  "
                f"{off_cents(sound, key):9.1f}"
            )


if __name__ == "__main__":
    main()
