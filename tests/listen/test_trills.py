"""The first note of a trill after a note of its own pitches, in takes without human timing."""

from pathlib import Path

import numpy as np
import pytest

import appui
from appui.listen.frames import RATE
from appui.listen.listen import Wanted, listen_samples
from appui.sound.synth import render_blocks
from tests.listen.figure_tune import TUNE, note


@pytest.mark.parametrize("before", ["D5", "E5", "C5"])
@pytest.mark.parametrize("first", ["upper", "main"])
def test_the_first_note_of_a_trill_is_told_by_the_beat(tmp_path: Path, before: str, first: str) -> None:
    """On D, after D, its upper note or its lower neighbour: the first note of another pitch is on the beat, or late."""
    figure = note("F4:1") + note("D5:2:turn")
    assert figure in TUNE
    tune = TUNE.replace(figure, note(f"{before}:1") + note("D5:2:trill-mark"))
    (tmp_path / "trill.musicxml").write_text(tune, encoding="utf-8")
    piece = appui.open(tmp_path / "trill.musicxml")
    words = "trill from above" if first == "upper" else "trill from the main note"
    solo = piece.play(readings={"flute.7.3": words}).solo().performance
    blocks = render_blocks(solo, sample_rate=RATE, reverb=False)
    sound = np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)
    report = listen_samples(piece.interpretation, sound, "take", Wanted(solo_alone=True))
    trill = next(each.trill for each in report.places if each.place.name == "flute.7.3")
    assert trill is not None
    assert trill.first_sure
    assert first == trill.first
