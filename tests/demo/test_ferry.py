"""The demo's score: made by its maker, clean in its writing, valid as MusicXML, the same to another reader."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from lxml import etree

from appui.demo import demo_score
from appui.demo.compose import main, score_bytes
from appui.demo.counterpoint import faults
from appui.demo.music import Music, Part, parse_bar, read_music
from appui.exact import Fraction


def _with(music: Music, part: int, bar: int, text: str) -> Music:
    """The music with one bar of one part written anew."""
    bars = list(music.parts[part].bars)
    bars[bar] = parse_bar(text, Fraction(3), "test")
    parts = list(music.parts)
    parts[part] = Part(parts[part].facts, tuple(bars))
    return Music(music.facts, tuple(parts))


def test_the_score_is_what_its_maker_makes(tmp_path: Path) -> None:
    """The file in the package is made from the data beside it, byte for byte."""
    main([str(tmp_path / "made")])
    assert (tmp_path / "made").read_bytes() == demo_score().read_bytes()


def test_the_writing_is_clean() -> None:
    """No parallels, no crossing, no note out of range."""
    assert [] == faults(read_music())


@pytest.mark.parametrize(
    ("part", "bar", "text", "fault"),
    [
        (1, 1, "C5q C5e C5e Bb4e A4e", "parallel octaves, Oboe and Violin: to bar 2, beat 7/3"),
        (1, 2, "Bb4h Bb4q", "parallel fifths, Violin and Violoncello: to bar 4, beat 1"),
        (2, 0, "B4h B4q", "Violin below Viola: bar 1, beat 1"),
        (3, 4, "B1q. A3q.", "Violoncello: 35 to 58 is outside 36 to 67"),
    ],
)
def test_a_planted_fault_is_found(part: int, bar: int, text: str, fault: str) -> None:
    """The check on the writing can fail."""
    assert any(found.startswith(fault) for found in faults(_with(read_music(), part, bar, text)))


@pytest.mark.parametrize(
    ("text", "words"), [("A4h", "Oboe, bar 1: 2 quarters, not 3"), ("A4h x", "Oboe, bar 1: 'x' is no note")]
)
def test_a_wrong_bar_is_refused(text: str, words: str) -> None:
    """A bar that does not add up, or a word that is no note, is named with its place."""
    with pytest.raises(ValueError, match=words):
        parse_bar(text, Fraction(3), "Oboe, bar 1")


def test_the_score_is_valid_musicxml(schema: etree.XMLSchema) -> None:
    """MusicXML 3.1, musicxml.xsd (as shipped in partitura): nothing in the file is newer."""
    schema.assertValid(etree.parse(BytesIO(score_bytes(read_music()))))


def test_the_schema_refuses_a_wrong_score(schema: etree.XMLSchema) -> None:
    """The check on validity can fail."""
    wrong = score_bytes(read_music()).replace(b"<octave>5</octave>", b"<octave>five</octave>", 1)
    assert not schema.validate(etree.parse(BytesIO(wrong)))


def test_another_reader_hears_the_same_pitches() -> None:
    """music21 reads the oboe's full-size notes as the data has them."""
    from music21 import converter, stream

    score = converter.parse(demo_score())
    assert isinstance(score, stream.Score)
    oboe = score.parts[0].recurse().notes
    notes = [note for note in oboe if not note.duration.isGrace]
    heard = [(note.nameWithOctave.replace("-", "b"), Fraction(note.quarterLength)) for note in notes]
    written = [(word.pitch, word.duration_q) for bar in read_music().parts[0].bars for word in bar if not word.rest]
    assert written == heard
