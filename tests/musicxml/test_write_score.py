"""A whole score as MusicXML: valid, and read again the same score, on scores that were read from files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import music21
import pytest
from lxml import etree

from appui.demo import demo_score
from appui.errors import ScoreError
from appui.exact import Fraction
from appui.musicxml.read.score import read_score, score_of
from appui.musicxml.read.source import parse_text
from appui.musicxml.write.head import file_bytes
from appui.musicxml.write.score import score_tree
from appui.notations.read import read_score as read_any
from appui.score.model import Event, Ornament, Part, Score, SmallNote
from appui.score.road_words import road_word
from appui.score.signs import find_signs
from appui.score.tempo_words import tempo_word

ROOT = Path(music21.__file__).parent / "corpus"
FILES = (
    "bach/bwv384.mxl",
    "beethoven/opus18no1/movement3.mxl",
    "corelli/opus3no1/1grave.xml",
    "cpebach/h186.mxl",
    "haydn/opus74no1/movement1.mxl",
    "schumann_clara/polonaise_op1n1.mxl",
    "verdi/laDonnaEMobile.mxl",
    "weber/concertino_clarinet.mxl",
)
CHORDAL = ("arpeggiate", "non-arpeggiate")


def again(score: Score) -> Score:
    """The score, written and read."""
    return score_of(parse_text(file_bytes(score_tree(score)), "x.musicxml").root, score.file)


def _small(group: tuple[SmallNote, ...]) -> tuple[SmallNote, ...]:
    return tuple(small._replace(line=0, ordinal=0) for small in group)


def _ornaments(found: tuple[Ornament, ...]) -> tuple[Ornament, ...]:
    # a sign of the whole chord is written on all its notes, whichever the file had it on
    return tuple(ornament for ornament in found if ornament.kind not in CHORDAL)


def _event(event: Event) -> Event:
    notes = tuple(note._replace(line=0, ornaments=_ornaments(note.ornaments)) for note in event.notes)
    return event._replace(
        notes=notes, small_before=_small(event.small_before), small_after=_small(event.small_after), line=0, ordinal=0
    )


def _part(part: Part) -> Part:
    """A part without what only its file has: ids, channels, lines, hairpins of no length, instruments of no name.

    Words of tempos and roads are told by those.
    """
    voices = tuple(voice._replace(events=tuple(map(_event, voice.events))) for voice in part.voices)
    hairpins = tuple(each for each in part.hairpins if each.onset_q < each.end_q)
    instrument = "" if part.instrument in ("", part.name) else part.instrument
    own = (each for each in part.words if not tempo_word(each.text) and road_word(each.text) is None)
    words = tuple(each for each in own if each.text)
    return replace(part, id="", voices=voices, channel=None, hairpins=hairpins, instrument=instrument, words=words)


@pytest.mark.parametrize("name", FILES)
def test_what_is_written_is_read_as_it_was(name: str) -> None:
    """Notes, small notes, signs, dynamics, keys, bars, roads, tempos: of real files, exactly."""
    score = read_score(ROOT / name)
    found = again(score)
    assert score.bars == found.bars
    assert [(sign.place, sign.kind) for sign in find_signs(score)] == [(s.place, s.kind) for s in find_signs(found)]
    assert [(mark.onset_q, mark.qpm) for mark in score.tempos] == [(mark.onset_q, mark.qpm) for mark in found.tempos]
    for one, other in zip(map(_part, score.parts), map(_part, found.parts), strict=True):
        assert one == other


BROOK = sorted((Path(__file__).parent.parent / "data" / "brook").iterdir())


@pytest.mark.parametrize("path", [demo_score(), *BROOK], ids=lambda path: path.name)
def test_what_is_written_is_valid(path: Path, schema_4: etree.XMLSchema) -> None:
    """MusicXML 4.0, musicxml.xsd (as shipped in the package musicxml)."""
    tree = etree.parse(BytesIO(file_bytes(score_tree(read_any(path)))))
    assert schema_4.validate(tree), schema_4.error_log


def test_the_same_score_is_written_to_the_same_bytes() -> None:
    """Nothing in it is drawn or dated."""
    score = read_score(demo_score())
    assert file_bytes(score_tree(score)) == file_bytes(score_tree(score))


def _changed(score: Score, change: Callable[[Event], Event]) -> Score:
    voice = score.parts[0].voices[0]
    events = (change(voice.events[0]), *voice.events[1:])
    part = replace(score.parts[0], voices=(voice._replace(events=events), *score.parts[0].voices[1:]))
    return replace(score, parts=(part, *score.parts[1:]))


@pytest.mark.parametrize(
    "change",
    [
        {"fermata": "angled"},
        {"articulations": frozenset({"staccato", "tenuto"})},
        {"pauses": frozenset({"breath-mark"})},
    ],
)
def test_what_hangs_on_an_event_is_kept(change: dict[str, Any]) -> None:
    """Each by itself."""
    score = _changed(read_score(demo_score()), lambda event: event._replace(**change))
    found = again(score).parts[0].voices[0].events[0]
    assert change == {name: getattr(found, name) for name in change}


def test_ornaments_keep_their_accidentals_and_attributes() -> None:
    """Above, below, and what is said of the sign."""
    ornament = Ornament("turn", (("placement", "above"), ("slash", "yes")), "", 1, -1)
    score = _changed(
        read_score(demo_score()), lambda event: event._replace(notes=(event.notes[0]._replace(ornaments=(ornament,)),))
    )
    assert (ornament,) == again(score).parts[0].voices[0].events[0].notes[0].ornaments


def test_lengths_that_no_reader_takes_are_refused() -> None:
    """A quarter note in more parts than we read ourselves."""
    score = read_score(demo_score())
    odd = _changed(score, lambda event: event._replace(duration_q=Fraction(1, 100_000_007)))
    with pytest.raises(ScoreError, match=r"needs [\d,]+ divisions of a quarter note"):
        score_tree(odd)
