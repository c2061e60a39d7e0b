"""Loudness and true peak against the cases of EBU Tech 3341 (read, transcription) and the meter of pyloudnorm."""

from __future__ import annotations

import math

import numpy as np
import pyloudnorm
import pytest

from appui.sound.loudness import Loudness, gain_for, measure

RATE = 48_000


def tone(*steps: tuple[float, float]) -> np.ndarray:
    """Stereo 1 kHz sine, (peak dBFS, seconds) after one another."""
    amplitudes = np.concatenate([np.full(round(seconds * RATE), 10 ** (dbfs / 20)) for dbfs, seconds in steps])
    wave = amplitudes * np.sin(2 * math.pi * 1000 * np.arange(len(amplitudes)) / RATE)
    return np.stack([wave, wave], axis=1).astype(np.float32)


def in_blocks(sound: np.ndarray, size: int = 10_007):
    """In pieces that fall on no boundary."""
    return (sound[start : start + size] for start in range(0, len(sound), size))


@pytest.mark.parametrize(
    ("expected", "steps"),
    [
        (-23, [(-23, 20)]),
        (-33, [(-33, 20)]),
        (-23, [(-36, 10), (-23, 60), (-36, 10)]),
        (-23, [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)]),
        (-23, [(-26, 20), (-20, 20.1), (-26, 20)]),
    ],
)
def test_ebu_loudness_cases(expected: float, steps) -> None:
    """EBU Tech 3341, cases 1 to 5 (read): within 0.1 LU."""
    assert expected == pytest.approx(measure(in_blocks(tone(*steps)), RATE).lufs, abs=0.1)


@pytest.mark.parametrize(
    ("expected", "divisor", "amplitude", "phase_degrees"),
    [(-6, 4, 0.5, 0), (-6, 4, 0.5, 45), (-6, 6, 0.5, 60), (-6, 8, 0.5, 67.5), (3, 4, 1.41, 45)],
)
def test_ebu_true_peak_cases(expected: float, divisor: int, amplitude: float, phase_degrees: float) -> None:
    """EBU Tech 3341, true peak (read): from 0.4 dB below to 0.2 above; most of it falls between the samples."""
    frames = np.arange(RATE)
    wave = amplitude * np.sin(2 * math.pi * frames / divisor + math.radians(phase_degrees))
    # the ends are faded: a sine that starts at once is a click, not a tone
    wave *= np.minimum(1, np.minimum(frames, frames[::-1]) / 4800)
    peak = measure(in_blocks(np.stack([wave, wave], axis=1).astype(np.float32)), RATE).peak_dbtp
    assert expected - 0.4 <= peak <= expected + 0.2


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_another_meter_agrees(rate: int) -> None:
    """On noise that swells and fades, in blocks, within 0.06 LU of pyloudnorm: its high pass is 0.04 dB too low."""
    random = np.random.default_rng(7)
    swell = np.abs(np.sin(np.arange(rate * 8) / rate))[:, np.newaxis]
    sound = (0.1 * swell * random.standard_normal((rate * 8, 2))).astype(np.float32)
    expected = pyloudnorm.Meter(rate).integrated_loudness(sound.astype(np.float64))
    assert expected == pytest.approx(measure(in_blocks(sound), rate).lufs, abs=0.06)


def test_one_channel_at_full_scale() -> None:
    """0 dBFS at 997 Hz in one channel is -3.01 LKFS (BS.1770, read)."""
    wave = np.sin(2 * math.pi * 997 * np.arange(5 * RATE) / RATE)
    sound = np.stack([wave, 0 * wave], axis=1).astype(np.float32)
    assert -3.01 == pytest.approx(measure(in_blocks(sound), RATE).lufs, abs=0.05)


def test_twice_the_amplitude_is_six_units_more() -> None:
    """+6.02 LU."""
    soft, loud = (measure([tone((dbfs, 2))], RATE).lufs for dbfs in (-30, -30 + 20 * math.log10(2)))
    assert 6.02 == pytest.approx(loud - soft, abs=0.01)


def test_silence_and_nothing_have_no_loudness() -> None:
    """No block passes the gate."""
    nothing = Loudness(-math.inf, -math.inf)
    assert nothing == measure([np.zeros((RATE, 2), np.float32)], RATE) == measure([], RATE)


def test_a_clip_shorter_than_a_block_is_measured() -> None:
    """0.2 s of tone is half a block of it: 3 dB less than the tone."""
    assert -26 == pytest.approx(measure([tone((-23, 0.2))], RATE).lufs, abs=0.2)


def test_one_gain_brings_the_loudest_to_the_target() -> None:
    """Unless a peak would pass the ceiling; silence asks for nothing."""
    assert 7 == gain_for([Loudness(-30, -20), Loudness(-40, -18)])
    assert 4 == gain_for([Loudness(-30, -20), Loudness(-40, -5)])
    assert 0 == gain_for([Loudness(-math.inf, -math.inf)]) == gain_for([])
