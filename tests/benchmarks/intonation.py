"""How far each key of an instrument of a SoundFont sounds from where it should, over its compass.

    python -m tests.benchmarks.intonation SOUNDFONT [--write]

Every key of the instruments in `COMPASS` is sounded for 1.4 s at velocity 96, without reverb and as the samples are,
and from 0.3 s on the mean frequency of the strongest of its first partials is found by how fast its phase turns.
Printed are the lowest, the middle and the highest of what was measured, in cents from equal temperament at A = 440 Hz,
then the same with the table that is in use now. `--write` puts what was measured into
`src/appui/sound/intonation.toml`, in place of what stands there for the same SoundFont.

Where a key lies more than 60 cents off, or two measurements half a second apart differ by more than 8 cents, the sample
wavers or is out of its range: it is left as it is.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from statistics import median

import numpy as np

from appui.exact import Fraction
from appui.perform.model import Performance, PerformedNote, PerformedPart, TempoStep
from appui.score.pitch import Pitch
from appui.sound import intonation
from appui.sound.synth import RATE, render_blocks

#  General MIDI program (0-based): name, lowest and highest key of the instrument (common practice, no source)
COMPASS = {
    6: ("harpsichord", 29, 89),
    0: ("piano", 28, 96),
    19: ("organ", 36, 91),
    24: ("guitar", 40, 81),
    40: ("violin", 55, 100),
    41: ("viola", 48, 88),
    42: ("violoncello", 36, 79),
    43: ("double bass", 28, 62),
    48: ("strings", 36, 96),
    52: ("voice", 40, 84),
    56: ("trumpet", 54, 86),
    57: ("trombone", 40, 77),
    60: ("horn", 41, 79),
    68: ("oboe", 58, 91),
    69: ("english horn", 52, 81),
    70: ("bassoon", 34, 74),
    71: ("clarinet", 50, 93),
    72: ("piccolo", 74, 108),
    73: ("flute", 60, 96),
    74: ("recorder", 60, 98),
}
STEP_S, LENGTH_S, FROM_S, HALF_S = 2.0, 1.4, 0.3, 0.5
#  short enough to follow a vibrato
WINDOW_S = 0.12
PARTIALS = 5
WIDEST_CENTS, STEADY_CENTS = 60.0, 8.0
_SIZE = 1 << 18


def sounded(font: Path, program: int, keys: range, *, raw: bool) -> np.ndarray:
    """All keys one after another, mono."""
    notes = tuple(
        PerformedNote(Fraction(2 * place), Fraction(7, 5), STEP_S * place, LENGTH_S, Pitch("C", 0, 4), key, 96)
        for place, key in enumerate(keys)
    )
    part = PerformedPart("one", "One", program, notes)
    steps = (TempoStep(Fraction(0), 0.0, Fraction(60)),)
    length_s = STEP_S * len(keys)
    whole = Performance("", (part,), steps, (), Fraction(2 * len(keys)), length_s, raw_samples=raw)
    samples: np.ndarray = np.concatenate(list(render_blocks(whole, font, reverb=False))).mean(axis=1, dtype=np.float64)
    return samples


def partial_cents(sound: np.ndarray, key: int) -> float | None:
    """Cents of the strongest of the first partials from where it should be; `None` for what is nowhere near."""
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), _SIZE))
    wanted_hz = 440 * 2 ** ((key - 69) / 12)
    heights = {}
    for number in range(1, PARTIALS + 1):
        low, high = (round(number * wanted_hz * factor * _SIZE / RATE) for factor in (0.966, 1.035))
        if high < len(spectrum):
            heights[number] = float(spectrum[low:high].max())
    number = max(heights, key=lambda each: heights[each])
    cents = turning_cents(sound, number * wanted_hz)
    return cents if abs(cents) <= WIDEST_CENTS else None


def turning_cents(sound: np.ndarray, near_hz: float) -> float:
    """How far the mean frequency near one lies above it: how fast its phase turns, vibrato and all."""
    size = round(max(WINDOW_S, 4 / near_hz) * RATE)
    hop = size // 12
    window, turned = np.hanning(size), sound * np.exp(-2j * math.pi * near_hz * np.arange(len(sound)) / RATE)
    phases = [np.angle(np.sum(window * turned[at : at + size])) for at in range(0, len(sound) - size, hop)]
    slope = np.polyfit(np.arange(len(phases)) * hop / RATE, np.unwrap(phases), 1)[0]
    return 1200 * math.log2(1 + float(slope) / (2 * math.pi * near_hz))


def measured(font: Path, program: int, keys: range, *, raw: bool) -> dict[int, float]:
    """Cents by key, for those that keep still."""
    sound = sounded(font, program, keys, raw=raw)
    found = {}
    for place, key in enumerate(keys):
        start = STEP_S * place + FROM_S
        begin, middle, end = (round((start + after) * RATE) for after in (0.0, HALF_S, LENGTH_S - FROM_S))
        whole, early, late = (
            partial_cents(sound[one:other], key) for one, other in ((begin, end), (begin, middle), (middle, end))
        )
        if whole is not None and early is not None and late is not None and abs(early - late) <= STEADY_CENTS:
            found[key] = whole
    return found


def main() -> None:
    """Measure, print, and write if asked to."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("soundfont", type=Path)
    parser.add_argument("--write", action="store_true")
    said = parser.parse_args()
    print(f"{'cents':14}{'as the samples are':>26}{'as corrected now':>26}   keys measured")
    table = {}
    for program, (name, low, high) in COMPASS.items():
        keys = range(low, high + 1)
        raw, now = (measured(said.soundfont, program, keys, raw=how) for how in (True, False))
        table[program] = raw
        spans = [
            f"{min(one.values()):+8.1f} {median(one.values()):+7.1f} {max(one.values()):+7.1f}" if one else f"{'-':>24}"
            for one in (raw, now)
        ]
        print(f"{name:14}{spans[0]:>26}{spans[1]:>26}   {len(raw)} of {len(keys)}")
    if said.write:
        intonation.write_table(said.soundfont, table)


if __name__ == "__main__":
    main()
