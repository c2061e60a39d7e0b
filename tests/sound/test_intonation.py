"""In tune: what sounds, tracked by Praat (through praat-parselmouth), which knows nothing of how the table was made."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import parselmouth
import pytest

from appui.sound.intonation import fingerprint, measured_cents
from appui.sound.soundfont import default_soundfont
from appui.sound.synth import RATE, render_blocks, stem_key
from appui.sound.tuning import make_tuning
from tests.sound.ruler import hz_of
from tests.sound.tone_font import write_tone_font

#  program: lowest and highest key that is looked at
LOOKED_AT = {
    68: (60, 86),
    73: (62, 91),
    71: (52, 88),
    70: (38, 70),
    74: (67, 91),
    40: (57, 91),
    42: (40, 74),
    6: (36, 84),
}
STEP_S = 1.5


def off_cents(part, piece, program: int, keys: list[int], **other) -> list[float]:
    """How far each key sounds from where it should, in the middle of a note of 1.4 s."""
    notes = part([(STEP_S * place, 1.4, key, 96) for place, key in enumerate(keys)], program)
    tuning = other.get("tuning") or make_tuning()
    sound = np.concatenate(list(render_blocks(replace(piece(notes), **other), reverb=False))).mean(axis=1)
    return [
        tracked_cents(sound[round((STEP_S * place + 0.3) * RATE) : round((STEP_S * place + 1.35) * RATE)], wanted)
        for place, wanted in enumerate(hz_of(tuning, key) for key in keys)
    ]


def tracked_cents(sound: np.ndarray, wanted: float) -> float:
    """Cents above what is wanted, mean of the pitch Praat tracks."""
    track = parselmouth.Sound(sound.astype(np.float64), RATE).to_pitch_ac(
        time_step=0.005, pitch_floor=0.7 * wanted, pitch_ceiling=1.4 * wanted
    )
    found = track.selected_array["frequency"]
    return 1200 * float(np.mean(np.log2(found[found > 0] / wanted)))


@pytest.mark.parametrize("program", LOOKED_AT)
def test_what_sounds_is_within_two_cents(part, piece, program) -> None:
    """Every third key of the compass, in equal temperament and no tuning asked for."""
    low, high = LOOKED_AT[program]
    off = off_cents(part, piece, program, list(range(low, high + 1, 3)))
    assert max(map(abs, off)) < 2, [round(each, 1) for each in off]


def test_a_temperament_is_what_sounds(part, piece) -> None:
    """The flute's octave from D5 in quarter-comma meantone at 415 Hz, within two cents."""
    off = off_cents(part, piece, 73, list(range(74, 87)), tuning=make_tuning(415, "quarter-comma"))
    assert max(map(abs, off)) < 2, [round(each, 1) for each in off]


def test_raw_samples_are_left_as_they_are(part, piece) -> None:
    """The default SoundFont's flute strays over more than six cents then."""
    off = off_cents(part, piece, 73, list(range(62, 92, 3)), raw_samples=True)
    assert max(off) - min(off) > 6


def test_a_soundfont_is_known_by_what_is_in_it(tmp_path) -> None:
    """Under another name it is the same; another one is not."""
    copy = tmp_path / "other name.sf2"
    shutil.copyfile(default_soundfont(), copy)
    assert fingerprint(default_soundfont()) == fingerprint(copy)
    assert measured_cents(copy, 68)
    tone = write_tone_font(tmp_path / "tone.sf2")
    assert fingerprint(copy) != fingerprint(tone)
    assert {} == measured_cents(tone, 68)


def test_a_changed_file_is_looked_at_again(tmp_path) -> None:
    """The same name with another SoundFont in it."""
    file = tmp_path / "x.sf2"
    shutil.copyfile(default_soundfont(), file)
    before = fingerprint(file)
    write_tone_font(file)
    assert before != fingerprint(file)


def test_the_cache_knows_raw_from_corrected(part, piece, tmp_path, monkeypatch) -> None:
    """Each has its own entry."""
    monkeypatch.setenv("APPUI_CACHE", str(tmp_path))
    whole = piece(part([(0, 1, 74, 96)], 73))
    keys = {stem_key(replace(whole, raw_samples=raw), None, RATE, reverb=False) for raw in (False, True)}
    assert 2 == len(keys)
