"""Real bass lines: the lowest part of scores music21 ships, unfigured, by the rule of the octave."""

from collections import Counter
from io import BytesIO
from pathlib import Path

import pytest
from lxml import etree

from appui.accompany.add import with_continuo
from appui.accompany.continuo import continuo_chords
from appui.accompany.voicing import faults, voice_chords
from appui.accompany.write import accompaniment_xml
from appui.harmony.analyse import analyse
from appui.musicxml.read.score import read_score, score_of
from appui.musicxml.read.source import parse_text


@pytest.mark.parametrize(("folder", "pattern", "most"), [("corelli", "**/*.xml", 4), ("bach", "bwv*.mxl", 12)])
def test_real_basses_are_harmonized_without_faults(folder, pattern, most) -> None:
    """No parallels, nothing unresolved, doubled or missing over any of them."""
    import music21

    files = sorted((Path(music21.__file__).parent / "corpus" / folder).glob(pattern))[:most]
    assert files
    found: Counter[str] = Counter()
    chords = 0
    for file in files:
        score = read_score(file)
        row, _ = continuo_chords(score, score.parts[-1], analyse(score).keys)
        chords += len(row)
        found.update(name for _, name in faults(row, voice_chords(row)))
    assert Counter() == found
    assert chords > 20 * len(files)


@pytest.mark.parametrize(("folder", "pattern", "most"), [("corelli", "**/*.xml", 4), ("bach", "bwv*.mxl", 6)])
def test_what_is_written_over_real_basses_is_read_again(schema, folder, pattern, most) -> None:
    """Valid by MusicXML 3.1 (musicxml.xsd as shipped in partitura); the same bars, repeats and notes, pickups too."""
    import music21

    files = sorted((Path(music21.__file__).parent / "corpus" / folder).glob(pattern))[:most]
    assert files
    for file in files:
        score = read_score(file)
        made = with_continuo(score, score.parts[-1])
        data = accompaniment_xml(made)
        schema.assertValid(etree.parse(BytesIO(data)))
        back = score_of(parse_text(data, "back.musicxml").root, "back.musicxml")
        assert _frame(made) == _frame(back)
        assert _notes(made) == _notes(back)


def _frame(score):
    return [
        (b.number, b.onset_q, b.length_q, b.implicit, b.repeat_forward, b.repeat_backward, b.endings)
        for b in score.bars
    ]


def _notes(score):
    events = [event for voice in score.parts[-1].voices for event in voice.events]
    return [(e.onset_q, e.duration_q, {note.sounding for note in e.notes}) for e in events]
