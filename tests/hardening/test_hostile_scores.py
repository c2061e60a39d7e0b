"""Scores made to cost time, memory or a disk: each is refused in a sentence before it does."""

from __future__ import annotations

import io
import os
import struct
import zipfile
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from appui.errors import ScoreError, SoundError
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.realizing import realize
from appui.musicxml.read.score import read_score, score_of
from appui.musicxml.read.source import load, parse_text
from appui.notate.output import notated
from appui.perform.play import play
from appui.practice.week import make_week, read_week
from appui.realize.quick import MOST_NOTES
from appui.sound.midi import midi_bytes
from appui.sound.synth import LONGEST_S, render_blocks

FERRY = Path(str(files("appui.demo").joinpath("ferry.musicxml")))
_HEAD = "<score-partwise><part-list><score-part id='P'><part-name>Oboe</part-name></score-part></part-list>"
_TONE = "<note>{}<pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration></note>"


def _score(bars: str, parts: int = 1) -> bytes:
    return (_HEAD + f"<part id='P'>{bars}</part>" * parts + "</score-partwise>").encode()


def _refusal(data: bytes) -> str:
    with pytest.raises(ScoreError) as refused:
        score_of(parse_text(data, "solo.xml").root, "solo.xml")
    return str(refused.value)


# XML


def test_an_attribute_of_a_hundred_megabytes_is_refused() -> None:
    """By the parser's own limit on one tag."""
    data = b"<score-partwise version='" + b"4" * 100_000_000 + b"'/>"
    assert "is broken XML" in _refusal(data)


def test_a_text_of_a_hundred_megabytes_is_refused() -> None:
    """By the parser's own limit on one text."""
    data = b"<score-partwise><movement-title>" + b"x" * 100_000_000 + b"</movement-title></score-partwise>"
    assert "is broken XML" in _refusal(data)


@pytest.mark.parametrize("text", [b"<a/>", b"<a b='' c=''/>"])
def test_more_tags_than_any_score_has_are_refused_unparsed(text: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """Eighty megabytes of the smallest tags would take five gigabytes as a tree."""
    monkeypatch.setattr("appui.musicxml.read.source.MAX_TAGS", 2_000)
    assert "million tags" in _refusal(b"<score-partwise>" + text * 2_000 + b"</score-partwise>")


def test_an_encoding_that_hides_tags_is_refused() -> None:
    """UTF-7 is unpacked by the parser after tags and entities are looked for."""
    data = b"<?xml version='1.0' encoding='UTF-7'?><score-partwise>+ADw-part/+AD4-</score-partwise>"
    assert "is in UTF-7" in _refusal(data)


def test_a_document_type_is_never_fetched(tmp_path: Path) -> None:
    """The schema a file names is not opened: neither over the net nor, as here, from the disk, where it would fail."""
    pipe = tmp_path / "partwise.dtd"
    os.mkfifo(pipe)  # opening it would wait for ever
    body = FERRY.read_bytes()
    body = body[body.index(b"<score-partwise") :]
    head = f"<!DOCTYPE score-partwise SYSTEM '{pipe.as_uri()}'>".encode()
    assert "score-partwise" == parse_text(head + body, "solo.xml").root.tag


def test_a_style_sheet_and_an_inclusion_are_never_followed(tmp_path: Path) -> None:
    """Processing instructions and XInclude are words like others."""
    secret = tmp_path / "secret.xml"
    secret.write_text("<secret>tell nobody</secret>", encoding="utf-8")
    href = secret.as_uri()
    data = (
        f"<?xml-stylesheet href='{href}'?><score-partwise xmlns:xi='http://www.w3.org/2001/XInclude'>"
        f"<xi:include href='{href}'/></score-partwise>"
    )
    assert "" == "".join(parse_text(data.encode(), "solo.xml").root.itertext())


# archives


def _lying(claimed: int) -> bytes:
    """An archive whose lists claim another unpacked size than is in it: 5 MB."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", _score("<measure/>") + b" " * 5_000_000)
    data = bytearray(stream.getvalue())
    struct.pack_into("<I", data, 22, claimed)
    struct.pack_into("<I", data, data.index(b"PK\x01\x02") + 24, claimed)
    return bytes(data)


def test_an_archive_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    """No more is unpacked than it owned to, and the checksum does not fit."""
    path = tmp_path / "solo.mxl"
    path.write_bytes(_lying(1_000))
    with pytest.raises(ScoreError, match="damaged archive"):
        load(path)


def test_an_archive_of_many_large_members_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sum counts, even of members nobody asks for."""
    monkeypatch.setattr("appui.musicxml.read.source.MAX_TOTAL_BYTES", 10_000)
    path = tmp_path / "solo.mxl"
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(20):
            archive.writestr(f"{number}.bin", os.urandom(600))
    with pytest.raises(ScoreError, match="far larger than any score"):
        load(path)


def test_nothing_of_an_archive_reaches_the_disk(tmp_path: Path) -> None:
    """Members with paths of all sorts stay where they are; the score is read."""
    path = tmp_path / "solo.mxl"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../outside.txt", "x")
        archive.writestr("/tmp/outside.txt", "x")  # noqa: S108 - nothing is written there
        archive.writestr("score.xml", FERRY.read_bytes())
    assert read_score(path).parts
    assert [path] == list(tmp_path.iterdir())
    assert not (tmp_path.parent / "outside.txt").exists()


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_what_never_ends_is_not_opened(kind: str, tmp_path: Path) -> None:
    """A pipe nobody writes to, a device that gives zeros."""
    path = tmp_path / "solo.xml"
    if kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero")
    with pytest.raises(ScoreError, match="is a device or a pipe"):
        load(path)


# numbers and counts


def test_a_chord_of_more_notes_than_there_are_keys_is_refused() -> None:
    """Ten thousand would take the square of the time."""
    chord = _TONE.format("", 4) + _TONE.format("<chord/>", 4) * 10_000
    assert "a chord of more than 128 notes" in _refusal(_score(f"<measure number='1'>{chord}</measure>"))


def test_a_score_of_thousands_of_parts_is_refused() -> None:
    """The harmony would hold each against each."""
    assert "has 2,000 parts, more than 300" in _refusal(_score("<measure number='1'/>", parts=2_000))


@pytest.mark.parametrize("word", ["1e999999999", "9" * 5_000, "1/0", "-1", "nan"])
@pytest.mark.parametrize("name", ["beats", "second-beat", "last-beat"])
def test_a_trill_of_absurd_beats_costs_nothing(name: str, word: str, tmp_path: Path) -> None:
    """An exponent is no decimal of MusicXML: as an exact number it would fill the memory."""
    trill = f"<notations><ornaments><trill-mark {name}='{word}'/></ornaments></notations></note>"
    path = tmp_path / "solo.xml"
    path.write_bytes(_score(f"<measure number='1'>{_TONE.format('', 4)}</measure>".replace("</note>", trill)))
    interpretation = interpret(path)
    assert ["trill"] == [choice.reading.name for choice in interpretation.choices.values()]


def test_music_longer_than_a_midi_file_is_refused(tmp_path: Path) -> None:
    """A hundred thousand empty bars are soon written down."""
    path = tmp_path / "solo.xml"
    path.write_bytes(_score(f"<measure number='1'>{_TONE.format('', 4)}</measure>"))
    interpretation = interpret(path)
    performance = replace(play(interpretation, interpretation.order(None, repeats=False)), length_q=Fraction(400_000))
    with pytest.raises(SoundError, match="400,000 quarter notes are more than a file holds"):
        midi_bytes(performance)


def test_a_knot_of_long_repeats_is_refused_before_it_is_played(tmp_path: Path) -> None:
    """Sixty times half an hour is more than a file holds; the bars once are not."""
    path = tmp_path / "solo.xml"
    back = "<barline location='right'><repeat direction='backward' times='60'/></barline>"
    path.write_bytes(_score(f"<measure number='1'>{_TONE.format('', 5_000)}{back}</measure>"))
    interpretation = interpret(path)
    with pytest.raises(ScoreError, match=r"solo\.xml: plays 300,000 quarter notes, more than a file holds \(279,620\)"):
        realize(interpretation, interpretation.order(None, repeats=True))
    assert 1 == len(realize(interpretation, interpretation.order(None, repeats=False)).tones[0])


@pytest.mark.parametrize(
    "sign",
    ["<trill-mark/>", "<tremolo type='single'>8</tremolo>"],
)
def test_a_sign_that_goes_on_makes_a_thousand_notes_at_most(sign: str, tmp_path: Path) -> None:
    """Two hours of trill or tremolo are no million notes, and still fill the note."""
    path = tmp_path / "solo.xml"
    hung = f"<notations><ornaments>{sign}</ornaments></notations></note>"
    path.write_bytes(_score(f"<measure number='1'>{_TONE.format('', 9_000)}</measure>".replace("</note>", hung)))
    interpretation = interpret(path)
    tones = realize(interpretation, interpretation.order(None, repeats=False)).tones[0]
    assert 500 < len(tones) <= MOST_NOTES
    assert 9_000 == sum(tone.duration_q for tone in tones)


def test_a_note_in_a_chord_with_nothing_is_written_as_one_of_its_own(tmp_path: Path) -> None:
    """Where what stood before it is written out, the bar written lasts as long as the bar read."""
    path = tmp_path / "solo.xml"
    small = "<note><grace/><chord/><pitch><step>B</step><octave>4</octave></pitch></note>"
    bar = _TONE.format("", 1) + small + _TONE.format("<chord/>", 1) + _TONE.format("", 2)
    path.write_bytes(_score(f"<measure number='1'>{bar}</measure>"))
    interpretation = interpret(path)
    written = score_of(parse_text(notated(path, interpretation, "replace", labels=False)[0], "written").root, "written")
    assert [4] == [bar.length_q for bar in interpretation.score.bars] == [bar.length_q for bar in written.bars]


def test_more_sound_than_a_player_can_mean_is_refused(tmp_path: Path) -> None:
    """A week's long note is said before the disk is full of it."""
    path = tmp_path / "solo.xml"
    slow = "<direction><direction-type/><sound tempo='1'/></direction>"
    path.write_bytes(_score(f"<measure number='1'>{slow}{_TONE.format('', 9_000)}</measure>"))
    interpretation = interpret(path)
    performance = play(interpretation, interpretation.order(None, repeats=False))
    assert performance.length_s > LONGEST_S
    with pytest.raises(SoundError, match="150 hours are more than the 8 we write"):
        next(iter(render_blocks(performance)))


def test_more_rounds_than_a_player_can_mean_are_refused(tmp_path: Path) -> None:
    """Before anything of the set is rendered."""
    head = f'score = "{FERRY}"\nfolder = "out"\n[[track]]\nname = "long"\ntempo = "5%"\ntimes = 200\n'
    path = tmp_path / "set.toml"
    path.write_text(head, encoding="utf-8")
    with pytest.raises(SoundError, match="hours are more than the 8 we write"):
        make_week(read_week(path))
    assert [] == list((tmp_path / "out").iterdir())
