"""The table of kinds against what is known of hearing, and the page's coder against what is asked about."""

import io
import math

import numpy as np
import pytest
import soundfile

from appui.drill.kinds import KINDS, Kind
from appui.drill.page import _RATE, _coded
from appui.drill.sound import hear
from appui.drill.trial import Material, make_trial
from appui.sound.loudness import measure
from appui.sound.synth import Font

#  loudness differences of consecutive tones just heard, dB: least and most (Psychology of Music 2022,
#  doi 10.1177/03057356221126203, abstract read)
LOUDNESS_DB = (0.68, 1.22)
#  timing, ms in intervals up to 240 ms, and percent of longer ones (Friberg & Sundberg 1995, abstract read)
TIMING_MS, TIMING_PERCENT = 6.0, 2.5


@pytest.mark.parametrize(
    ("name", "heard"), [("heavier", LOUDNESS_DB), ("lean-or-pass", (TIMING_MS,) * 2), ("longer", (TIMING_PERCENT,) * 2)]
)
def test_ladders_reach_from_far_above_to_below_what_is_just_heard(name: str, heard: tuple[float, float]) -> None:
    """The start is more than six times the most that is just heard, the floor below the least."""
    ladder = KINDS[name].ladder
    least, most = heard
    assert ladder.start > 6 * most
    assert ladder.levels[-1] < least


def test_trills_reach_from_slow_to_faster_than_anybody_plays() -> None:
    """From 4 notes a second to twice the 14 a second of measured performances ((n)ASAP, computed)."""
    ladder = KINDS["trill-start"].ladder
    assert 1000 / ladder.start < 4
    assert 1000 / ladder.levels[-1] > 2 * 14


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_the_pages_coder_keeps_levels_loudness_and_length(kind: Kind, font: Font) -> None:
    """MP3 and back: every tenth of a second within 0.2 dB, the whole within 0.1 LU, the first onset within 3 ms."""
    trial = make_trial(kind, Material(), "coder", 1, kind.ladder.level(4), 0)
    for sound in hear(trial, font, rate=_RATE).sounds:
        before = sound.mean(1)
        after, rate = soundfile.read(io.BytesIO(_coded(before)), dtype="float32")
        assert (_RATE, len(before)) == (rate, len(after))
        assert 0.2 > max(abs(difference) for difference in differences_db(before, after))
        assert lufs(before) == pytest.approx(lufs(after), abs=0.1)
        assert onset_ms(before) == pytest.approx(onset_ms(after), abs=3)


def differences_db(before: np.ndarray, after: np.ndarray) -> list[float]:
    """Level of every tenth of a second that is no softer than 40 dB below the loudest."""
    step = _RATE // 10
    powers = [[float(np.mean(sound[at : at + step].astype(float) ** 2)) for sound in (before, after)]
              for at in range(0, len(before) - step, step)]  # fmt: skip
    loudest = max(power for power, _ in powers)
    return [10 * math.log10(other / one) for one, other in powers if one > loudest / 1e4]


def lufs(sound: np.ndarray) -> float:
    return measure([np.stack([sound, sound], 1)], _RATE).lufs


def onset_ms(sound: np.ndarray) -> float:
    return 1000 * float(np.argmax(np.abs(sound) > np.abs(sound).max() / 20)) / _RATE
