"""Real bass lines: the lowest part of scores music21 ships, unfigured, by the rule of the octave."""

from collections import Counter
from pathlib import Path

import pytest

from appui.accompany.continuo import continuo_chords
from appui.accompany.voicing import faults, voice_chords
from appui.harmony.analyse import analyse
from appui.score.read import read_score


@pytest.mark.parametrize(("folder", "pattern", "most"), [("corelli", "**/*.xml", 4), ("bach", "bwv*.mxl", 24)])
def test_real_basses_are_harmonized_without_faults(folder, pattern, most) -> None:
    """No parallels, nothing unresolved, doubled or missing over any of them."""
    import music21

    files = sorted((Path(music21.__file__).parent / "corpus" / folder).glob(pattern))[:most]
    assert files
    found, chords = Counter(), 0
    for file in files:
        score = read_score(file)
        row, _ = continuo_chords(score, score.parts[-1], analyse(score).keys)
        chords += len(row)
        found.update(name for _, name in faults(row, voice_chords(row)))
    assert Counter() == found
    assert chords > 20 * len(files)
