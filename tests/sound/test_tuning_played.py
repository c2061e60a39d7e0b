"""Tunings in MIDI files, as FluidSynth's own player hears them: the messages mean what they should to another program.

FluidSynth cuts what it is told to whole cents, the shift of the channel and the offset of the pitch class each by
itself, so a key comes out up to two cents low and an interval within one cent.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from appui.sound.midi import write_midi
from appui.sound.tuning import TEMPERAMENTS, make_tuning
from tests.sound.midi_player import play_file
from tests.sound.ruler import cents, hz_of, measured_hz
from tests.sound.tone_font import exact_hz, write_tone_font

if TYPE_CHECKING:
    import numpy as np

RATE = 44_100
STEP_S = 1.6


@pytest.fixture(scope="module")
def played(part, piece, tmp_path_factory):
    """Cents off the recipe of the twelve keys from C4, played from a file, the tone's own error taken away."""
    folder = tmp_path_factory.mktemp("played")
    font = write_tone_font(folder / "tone.sf2")

    def play(a4_hz: float, name: str, *, before: int = 0) -> list[float]:
        tuning = make_tuning(a4_hz, name)
        notes = part([(STEP_S * n, 1.5, 60 + n, 100) for n in range(12)], 0)
        silent = (part([], 0, id=f"silent {n}") for n in range(before))
        write_midi(replace(piece(*silent, notes), tuning=tuning), folder / "x.mid")
        sound = play_file(folder / "x.mid", font, folder / "x.wav")
        found = [measured_hz(_steady(sound, n), hz_of(tuning, 60 + n)) for n in range(12)]
        return [cents(hz, hz_of(tuning, 60 + n)) - cents(exact_hz(69), 440) for n, hz in enumerate(found)]

    return play


def _steady(sound: np.ndarray, number: int) -> np.ndarray:
    return sound[round((STEP_S * number + 0.15) * RATE) : round((STEP_S * number + 1.45) * RATE)]


@pytest.mark.parametrize("name", TEMPERAMENTS)
def test_a_file_sounds_in_tune_elsewhere(played, name: str) -> None:
    """At 415 Hz every pitch class at most two cents low, every interval with A within one cent."""
    off = played(415, name)
    assert all(-2.02 < each < 0.05 for each in off), off
    assert [0] * 12 == pytest.approx([each - off[9] for each in off], abs=1.02)


@pytest.mark.parametrize("a4_hz", [380, 392, 430, 442, 466, 480])
def test_a_file_has_its_pitch_elsewhere(played, a4_hz: float) -> None:
    """Coarse and fine tuning together, at most two cents low."""
    off = played(a4_hz, "equal")
    assert all(-2.02 < each < 0.05 for each in off), off


def test_the_twelfth_channel_is_tuned_too(played) -> None:
    """The bits of its channel lie in the second byte of the mask."""
    off = played(415, "quarter-comma", before=10)
    assert all(-2.02 < each < 0.05 for each in off), off
