"""Trials as they sound, measured from the samples: what is asked about is there, and nothing else tells the answer."""

import math
import random
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from appui.drill.answers import CATCH
from appui.drill.kinds import KINDS, Kind
from appui.drill.phrase import signed
from appui.drill.sound import GAP_S, Heard, hear, joined, one_after_another
from appui.drill.trial import Material, Trial, answers_of, make_trial
from appui.perform.model import Performance, PerformedNote
from appui.sound.loudness import measure
from appui.sound.synth import Font, render_blocks

Samples = NDArray[np.float32]
LEAD_S, RATE = 0.15, 44100
#  a quarter of the rate is enough for what a whole trial gives away
COARSE = 11025
PAIRED = [KINDS["heavier"], KINDS["longer"]]
COUNTS = dict.fromkeys(KINDS, 72) | {"heavier": 110}


def trials(kind: Kind, count: int, seed: str = "sound") -> list[Trial]:
    chance = random.Random(seed)  # noqa: S311 - chance of music
    answers = answers_of(kind, seed, count)
    return [
        make_trial(kind, Material(), seed, number, kind.ladder.level(chance.randint(0, kind.ladder.rungs)), answer)
        for number, answer in enumerate(answers)
    ]


def alone(performance: Performance, note: PerformedNote) -> Performance:
    """The performance with this note of the solo and nothing else."""
    parts = tuple(replace(part, notes=(note,)) for part in performance.parts if part.solo)
    return replace(performance, parts=parts)


def rendered(performance: Performance, font: Font) -> Samples:
    return np.concatenate(list(render_blocks(performance, font, sample_rate=RATE, reverb=False)))[:, 0]


def level_db(sound: Samples, from_s: float, to_s: float) -> float:
    part = sound[round(from_s * RATE) : round(to_s * RATE)].astype(float)
    return 10 * math.log10(float(np.mean(part**2)))


def onset_s(sound: Samples) -> float:
    """Where the sound first passes a hundredth of its peak."""
    return float(np.argmax(np.abs(sound) > np.abs(sound).max() / 100)) / RATE


# what is asked about


def measured_weight(performance: Performance, trial: Trial, font: Font) -> float:
    """The level of the small note over that of its main note, each sounded alone.

    The same key is taken for both, since a sampled instrument is not equally loud over its range.
    """
    small, main = signed(performance, trial.setting.phrase.sign)
    levels = []
    for note in (small, main):
        same = note._replace(onset_s=0.0, duration_s=0.6, key=small.key, pitch=small.pitch)
        levels.append(level_db(rendered(alone(performance, same), font), 0.1, 0.5))
    return levels[0] - levels[1]


def test_the_difference_in_weight_is_that_of_the_trial(font: Font) -> None:
    """In `heavier` the second weight less the first is the level, within 0.2 dB, measured on rendered notes."""
    kind, off = KINDS["heavier"], []
    for trial in trials(kind, 24):
        first, second = (measured_weight(heard, trial, font) for heard in trial.intervals)
        wanted = {CATCH: 0.0, 0: -trial.level, 1: trial.level}[trial.answer]
        off.append(abs(second - first - wanted))
    assert 0.2 > max(off)


def test_the_difference_in_length_is_that_of_the_trial(font: Font) -> None:
    """In `longer` the lengths of the leaning notes, from the onsets in the sound, differ as said within 3 ms."""
    kind = KINDS["longer"]
    for trial in trials(kind, 16):
        lengths = [length_ms(heard, trial, font) for heard in trial.intervals]
        short, long = sorted(asked_ms(heard, trial) for heard in trial.intervals)
        wanted = {CATCH: 0.0, 0: short - long, 1: long - short}[trial.answer]
        assert wanted == pytest.approx(lengths[1] - lengths[0], abs=3)
        if trial.answer != CATCH:
            assert trial.level == pytest.approx(100 * (long / short - 1), abs=0.1)


@pytest.mark.parametrize("name", ["lean-or-pass", "member-or-dissonance", "which-reading"])
def test_the_gap_is_that_of_the_trial(name: str, font: Font) -> None:
    """From the onset of the small note to that of its main note, in the sound, within 3 ms."""
    for trial in trials(KINDS[name], 12):
        times = 2.5 if name == "which-reading" and trial.answer == 2 else 1
        assert times * trial.level == pytest.approx(length_ms(trial.intervals[0], trial, font), abs=3)


def asked_ms(performance: Performance, trial: Trial) -> float:
    small, main = signed(performance, trial.setting.phrase.sign)
    return 1000 * (main.onset_s - small.onset_s)


def length_ms(performance: Performance, trial: Trial, font: Font) -> float:
    """From one onset to the other, each found in the sound of its note alone; both of one key, struck alike."""
    small, main = signed(performance, trial.setting.phrase.sign)
    alike = [note._replace(key=small.key, pitch=small.pitch, velocity=90, duration_s=0.3) for note in (small, main)]
    first, second = (onset_s(rendered(alone(performance, note), font)) for note in alike)
    return 1000 * (second - first)


# what is not asked about


def cues(sound: Samples, rate: int) -> list[float]:
    """Length, first onset (s), peak and crest (dB) of an interval: what might give an answer away."""
    mono = np.abs(sound).max(axis=1)
    peak = float(mono.max())
    loud = np.flatnonzero(mono > peak / 100)
    power = float(np.mean(sound.astype(float) ** 2))
    return [
        float(loud[-1] - loud[0]) / rate,
        float(loud[0]) / rate,
        20 * math.log10(peak),
        20 * math.log10(peak) - 10 * math.log10(power),
    ]


@cache
def sounding(name: str, font: Font) -> list[tuple[Trial, Heard]]:
    return [(trial, hear(trial, font, rate=COARSE, reverb=False)) for trial in trials(KINDS[name], COUNTS[name], "cue")]


def table_of(name: str, font: Font) -> tuple[NDArray[np.float64], NDArray[np.int_]]:
    """Cues of the trials and their answers; of two intervals, the second's less the first's."""
    table, answers = [], []
    for trial, heard in sounding(name, font):
        if trial.answer != CATCH:
            found = [cues(sound, heard.rate) for sound in heard.sounds]
            table.append(np.subtract(found[1], found[0]) if len(found) > 1 else np.array(found[0]))
            answers.append(trial.answer)
    return np.array(table), np.array(answers)


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_no_cue_tells_the_answer(kind: Kind, font: Font) -> None:
    """A classifier on duration, first onset, peak and crest, tried on trials it has not seen, is no better than chance.

    Fisher's linear discriminant; guesses stay within 2.6 standard errors, 99 in 100. In `heavier` duration and onset
    only: its peak tells something, and the next test says how little.
    """
    table, answers = table_of(kind.name, font)
    error = math.sqrt(kind.guess * (1 - kind.guess) / len(answers))
    assert kind.guess + 2.6 * error > crossed(table[:, :2] if kind.name == "heavier" else table, answers)


def test_a_heavier_note_hardly_raises_the_peak(font: Font) -> None:
    """At equal loudness it must, a little: by less than half the 0.68 dB that are just heard (2022, abstract read)."""
    table, answers = table_of("heavier", font)
    raised = np.where(answers == 1, 1, -1) * table[:, 2]
    assert 0.34 > raised.mean()
    assert 0.68 > np.abs(raised).mean()


def test_the_classifier_finds_a_cue_that_is_there() -> None:
    """A tenth of a second of difference in length among noise is found."""
    chance = np.random.default_rng(1)
    answers = np.arange(120) % 2
    table = chance.normal(0, 1, (120, 4))
    table[:, 0] = 5 + 0.1 * answers + chance.normal(0, 0.04, 120)
    assert 0.8 < crossed(table, answers)


def crossed(table: NDArray[np.float64], answers: NDArray[np.int_]) -> float:
    """The share of right answers of a linear discriminant on trials it has not seen."""
    spread = table.std(axis=0)
    table = (table - table.mean(axis=0)) / np.where(spread > 1e-9, spread, 1.0)
    right = 0
    for fold in range(10):
        out = np.arange(len(table)) % 10 == fold
        means = np.array([table[~out & (answers == each)].mean(axis=0) for each in range(answers.max() + 1)])
        within = np.cov((table[~out] - means[answers[~out]]).T) + 1e-3 * np.eye(table.shape[1])
        weights = means @ np.linalg.inv(within)
        scores = table[out] @ weights.T - 0.5 * np.einsum("ij,ij->i", weights, means)
        right += int((scores.argmax(axis=1) == answers[out]).sum())
    return right / len(table)


@pytest.mark.parametrize("kind", PAIRED, ids=["heavier", "longer"])
def test_both_intervals_are_equally_loud_and_long(kind: Kind, font: Font) -> None:
    """Whole intervals: within 0.3 LU, the same number of frames, peaks at or below -1 dBTP."""
    for _, heard in sounding(kind.name, font)[:40]:
        first, second = (measure([sound], heard.rate) for sound in heard.sounds)
        assert first.lufs == pytest.approx(second.lufs, abs=0.3)
        assert -0.99 >= max(first.peak_dbtp, second.peak_dbtp)
        assert 1 == len({len(sound) for sound in heard.sounds})


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_the_level_of_trials_roves(kind: Kind, font: Font) -> None:
    """Over 6 dB, the same for every answer within what chance brings."""
    levels: dict[int, list[float]] = {}
    for trial, heard in sounding(kind.name, font):
        levels.setdefault(trial.answer, []).append(measure([heard.sounds[0]], heard.rate).lufs)
    every = [level for each in levels.values() for level in each]
    assert 4.5 < max(every) - min(every) < 7
    means = [np.mean(each) for answer, each in levels.items() if answer != CATCH]
    assert 1.5 > max(means) - min(means)


def test_the_sound_of_a_trial_is_its_intervals_and_a_gap(font: Font) -> None:
    """Nothing is cut off."""
    (trial, heard) = sounding("heavier", font)[0]
    frames = sum(map(len, heard.sounds)) + round(GAP_S * heard.rate)
    assert (frames, 2) == joined(heard).shape
    assert 2 == len(trial.intervals)


def test_a_sound_card_gets_both_intervals_equally_loud(font: Font) -> None:
    """The channel volume makes up for their difference, to 0.3 LU."""
    for trial, heard in sounding("heavier", font)[:4]:
        live = one_after_another(trial, heard)
        sound = np.concatenate(list(render_blocks(live, font, sample_rate=COARSE, reverb=False)))
        half = round((trial.intervals[0].length_s + 1.0 + GAP_S / 2 + LEAD_S) * COARSE)
        first, second = measure([sound[:half]], COARSE), measure([sound[half:]], COARSE)
        assert first.lufs == pytest.approx(second.lufs, abs=0.3)


def test_the_same_trial_sounds_the_same(font: Font) -> None:
    """Same input, same samples."""
    (trial, heard) = sounding("heavier", font)[0]
    again = hear(trial, font, rate=COARSE, reverb=False)
    assert all(np.array_equal(one, other) for one, other in zip(heard.sounds, again.sounds, strict=True))
