"""The moment a note begins under what rings on: made sounds and shares, whose beginnings are known."""

import math

import numpy as np
import pytest

from appui.listen.frames import FRAME_S, HOP, RATE
from appui.listen.onsets import risen_at, shares_of
from appui.listen.spectra import guessed
from appui.listen.take import take_of

BINS = 216


def tone(key: int, begins_s: float, ends_s: float, length_s: float, falls_s: float = 0.01) -> np.ndarray:
    """A note with six harmonics; after its end it rings on and falls to a third every `falls_s`."""
    at = np.arange(round(length_s * RATE)) / RATE
    hertz = 440 * 2 ** ((key - 69) / 12)
    wave = sum(0.75**n * np.sin(2 * np.pi * hertz * (n + 1) * at) for n in range(6))
    envelope = np.clip((at - begins_s) / 0.01, 0, 1) * np.exp(-np.maximum(at - ends_s, 0) / falls_s)
    return np.asarray(0.1 * wave * envelope, np.float32)


def begins_s(sound: np.ndarray, key: int, other: int, about_s: float) -> float:
    """Where the note is heard to begin."""
    take = take_of(sound, "take")
    share = shares_of(take, guessed([key, other], BINS), 0, len(sound) // HOP)[0]
    return risen_at(share, round(about_s / FRAME_S)) * FRAME_S


@pytest.mark.parametrize("falls_s", [0.01, 0.1, 0.3])
def test_a_note_begins_where_it_does_however_long_the_one_before_rings(falls_s) -> None:
    """Within 12 ms, looked for from 40 ms too late."""
    sound = tone(76, 0.2, 1.0, 2.0, falls_s) + tone(74, 1.0, 1.9, 2.0)
    assert begins_s(sound, 74, 76, 1.04) == pytest.approx(1.0, abs=0.012)


def test_a_note_that_does_not_rise_has_no_beginning() -> None:
    """It sounds all the time."""
    assert math.isnan(risen_at(np.full(100, 3.0), 50))


def test_a_note_that_is_not_there_has_no_beginning() -> None:
    """Nothing of it is in the sound."""
    assert math.isnan(risen_at(np.zeros(100), 50))


def test_the_shares_of_a_single_note_are_its_own() -> None:
    """Of a note that sounds alone nearly all is its own."""
    sound = tone(74, 0.1, 1.9, 2.0)
    own, other = shares_of(take_of(sound, "take"), guessed([74, 77], BINS), 60, 200)
    assert own.sum() > 10 * other.sum()
