"""A line found in made sounds, and a small note heard in them: every beginning and level is known."""

from typing import cast

import numpy as np
import pytest

from appui.exact import Fraction
from appui.listen.align import Aligned, Fitting, Span, align, align_fitted
from appui.listen.frames import FRAME_S, RATE
from appui.listen.line import Decided, Line, Place, Step
from appui.listen.places import hear
from appui.listen.take import Take, take_of
from appui.score.signs import Sign
from tests.listen.test_onsets import tone

KEYS = (74, 76, 77, 79, 81, 77, 76, 74)
NOTE_S, FIRST_S = 0.3, 0.5


def noise(length_s: float) -> np.ndarray:
    """A quiet room."""
    return np.random.default_rng(1).normal(0, 2e-5, round(length_s * RATE)).astype(np.float32)


def line(keys: tuple[int, ...], starts_s: list[float], places: tuple[Place, ...] = ()) -> Line:
    """Notes where they were played, two quarter notes a second."""
    onsets_q = [Fraction(round(20 * (at - FIRST_S)), 10) for at in starts_s]
    steps = (
        Step(q, Fraction(1, 2), at - FIRST_S, key, "1") for q, at, key in zip(onsets_q, starts_s, keys, strict=True)
    )
    return Line(tuple(steps), places)


def found(line: Line, sound: np.ndarray) -> tuple[Take, Aligned]:
    """The line in the sound."""
    take = take_of(sound.astype(np.float32), "take")
    return take, align(line, take)


def test_a_long_rest_is_no_end_of_the_line() -> None:
    """Nine seconds of rest between two phrases: every note of the second is found where it is, within 25 ms."""
    phrase = [NOTE_S * number for number in range(len(KEYS))]
    starts_s = [FIRST_S + at for at in phrase] + [FIRST_S + 11.4 + at for at in phrase]
    length_s = starts_s[-1] + 1.0
    sound = sum(
        (tone(key, at, at + 0.28, length_s) for key, at in zip(KEYS * 2, starts_s, strict=True)), noise(length_s)
    )
    _, aligned = found(line(KEYS * 2, starts_s), sound)
    assert starts_s == pytest.approx([each.start * FRAME_S for each in aligned.found], abs=0.025)


def test_a_note_where_silence_fits_better_does_not_fit() -> None:
    """Of all keys its own fits best there, but silence better still."""
    frames = 400
    by_key = np.full((2, frames), -9.0, np.float32)
    by_key[0, :200], by_key[1, 200:] = -1.0, -5.0
    silence = np.where(np.arange(frames) < 200, -9.0, -2.0)
    fitting = Fitting((74, 76), by_key, np.full(frames, -6.0), silence, np.zeros(frames + 1))
    two = line((74, 76), [FIRST_S, FIRST_S + 1.16])
    assert [1.0, 0.0] == list(align_fitted(two, fitting, Span.free(0, frames)).fit)


@pytest.mark.parametrize("louder_db", [-6.0, 0.0, 3.0])
def test_a_weight_is_told_without_what_rings_on(louder_db) -> None:
    """A small note of 0.2 s rings over its main note, what comes before over it: within 2 dB, and begun within 2 ms."""
    keys = (74, 76, 77, 79, 74, 81, 77, 76)
    starts_s = [FIRST_S + 0.6 * number for number in range(len(keys))]
    length_s = starts_s[-1] + 1.2
    sounds = [tone(key, at, at + 0.55, length_s) for key, at in zip(keys, starts_s, strict=True)]
    sounds[3] = tone(79, starts_s[3], starts_s[3] + 0.6, length_s, 0.25)
    # the fifth note's main note comes 0.2 s later, and rings no less
    sounds[4] = tone(74, starts_s[4] + 0.2, starts_s[4] + 0.55, length_s)
    small = tone(76, starts_s[4], starts_s[4] + 0.2, length_s, 0.25) * 10 ** (louder_db / 20)
    place = Place(cast("Sign", None), 4, 1, (76,), Decided("", "on"))
    take, aligned = found(line(keys, starts_s, (place,)), sum((*sounds, small), noise(length_s)))
    heard = hear(line(keys, starts_s, (place,)), take, aligned).notes[0]
    assert starts_s[4] + 0.2 == pytest.approx(heard.main_s, abs=0.002)
    assert louder_db == pytest.approx(heard.small_db - heard.main_db, abs=2.0)
