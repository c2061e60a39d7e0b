"""The first note of a trill after a note of its own pitches, which may make no sound of its own."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import appui
from appui.listen.frames import RATE
from appui.listen.heard import HeardTrill
from appui.listen.judge import judge
from appui.listen.listen import Wanted, listen_samples
from appui.sound.synth import render_blocks
from tests.listen.figure_tune import TUNE, note

NOTE_S = 0.09
MAIN, UPPER = 74, 76


@pytest.mark.parametrize(
    ("before", "heard_first", "late", "first"),
    [
        ("D5", UPPER, True, "main"),
        ("D5", UPPER, False, "upper"),
        ("E5", MAIN, True, "upper"),
        ("E5", MAIN, False, "main"),
    ],
)
def test_the_first_note_of_a_trill_after_its_own_pitch_is_told_by_the_beat(
    tmp_path: Path, before: str, heard_first: int, late: bool, first: str
) -> None:
    """The first note of the other pitch is on the beat, or a note late where one of the pitch before came first."""
    figure = note("F4:1") + note("D5:2:turn")
    assert figure in TUNE
    tune = TUNE.replace(figure, note(f"{before}:1") + note("D5:2:trill-mark"))
    (tmp_path / "trill.musicxml").write_text(tune, encoding="utf-8")
    piece = appui.open(tmp_path / "trill.musicxml")
    blocks = render_blocks(piece.play().solo().performance, sample_rate=RATE, reverb=False)
    sound = np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)
    report = listen_samples(piece.interpretation, sound, "take", Wanted(solo_alone=True))
    number = next(n for n, each in enumerate(report.places) if each.place.name == "flute.7.3")
    begins_s = report.places[number].beat.at_s + NOTE_S * late
    keys = (heard_first, MAIN + UPPER - heard_first) * 5
    starts_s = tuple(begins_s + NOTE_S * n for n in range(len(keys)))
    made = HeardTrill(starts_s, keys, starts_s[-1] + NOTE_S, held=True)
    heard = replace(report.heard, trills={**report.heard.trills, number: made})
    trill = judge(report.line, heard)[number].trill
    assert trill is not None
    assert trill.first_sure
    assert (first, len(keys) + late) == (trill.first, trill.count)
