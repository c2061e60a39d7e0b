"""MEI that verovio makes of MusicXML files, against our reading of those files: two ways, one score.

verovio is the second opinion: it writes MEI of its own, and what comes out of our reader must be the score that the
MusicXML says: every note, small note with its stroke, ornament, articulation, tie, slur, fermata, bar, repeat, key.
The files are those of the corpus folders that verovio (6.4) itself reads as they are written; it drops a `forward` at
the end of a bar, moves hairpins off their beats, and makes one rest of two.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import music21
import pytest
from lxml import etree

from appui.mei.score import mei_root, score_of_mei
from appui.musicxml.read.score import read_score
from appui.musicxml.read.source import load
from appui.score.model import Event, Score

ROOT = Path(music21.__file__).parent / "corpus"
FILES = (
    "bach/bwv384.mxl",
    "beethoven/opus18no1/movement3.mxl",
    "cpebach/h186.mxl",
    "haydn/opus1no1/movement3.mxl",
    "haydn/opus74no1/movement1.mxl",
    "monteverdi/madrigal.3.1.mxl",
    "schumann_robert/opus41no1/movement3.mxl",
    "weber/concertino_clarinet.mxl",
)


def _as_mei(path: Path) -> Score:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"inputFrom": "xml", "breaks": "none"})
    assert toolkit.loadData(etree.tostring(load(path).root, encoding="unicode"))
    return score_of_mei(mei_root(toolkit.getMEI({"scoreBased": True}).encode(), "x.mei"), "x.mei")


def _event(event: Event) -> tuple[object, ...]:
    """What is printed on an event, as far as both ways say it."""
    small = tuple(
        (tuple(pitch.name for pitch in each.written), bool(each.slash), each.type_name)
        for each in (*event.small_before, *event.small_after)
    )
    ornaments = {(each.kind, each.above, each.below) for note in event.notes for each in note.ornaments}
    return (
        event.onset_q,
        event.duration_q,
        tuple(sorted((note.written.name, note.sounding.name, note.tied_on) for note in event.notes)),
        small,
        len(event.small_before),
        frozenset(ornament for ornament in ornaments if ornament[0] != "wavy-line"),
        event.articulations - {"breath-mark", "caesura"},
        event.fermata is not None,
        (event.slur_on, event.slur_back),
    )


@pytest.mark.parametrize("name", FILES)
def test_the_same_score(name: str) -> None:
    """Parts, bars, roads, keys and all that stands in the voices."""
    here, there = read_score(ROOT / name), _as_mei(ROOT / name)
    assert [part.staves for part in here.parts] == [part.staves for part in there.parts]
    for one, other in zip(here.parts, there.parts, strict=True):
        assert [(key.onset_q, key.fifths) for key in one.keys] == [(key.onset_q, key.fifths) for key in other.keys]
        found, expected = (
            Counter(_event(event) for voice in part.voices for event in voice.events if event.notes)
            for part in (other, one)
        )
        assert expected == found, (one.name, list((expected - found) + (found - expected))[:4])
    roads = [
        [
            (bar.number, bar.length_q, bar.meter, bar.repeat_forward, bar.repeat_backward, bar.endings)
            for bar in score.bars
        ]
        for score in (here, there)
    ]
    assert roads[0] == roads[1]
