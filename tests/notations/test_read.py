"""One door for all notations: which a file is in, one piece in four of them, and what is typed on paper only."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from appui.abc.score import example, score_of_abc
from appui.cli.main import cli
from appui.compare.survey import select, survey_record
from appui.errors import AppuiError, ScoreError
from appui.interpret.interpretation import interpret
from appui.musicxml.read.score import score_of
from appui.musicxml.write.head import file_bytes
from appui.notate.output import notated
from appui.notations.kinds import notation_of
from appui.notations.read import load, read_score
from appui.page.marked import mark_score
from appui.perform.play import play
from appui.score.signs import find_signs
from appui.sound.midi import midi_bytes

BROOK = Path(__file__).parent.parent / "data" / "brook"
NOTATIONS = ("musicxml", "abc", "mei", "krn")
#  what a notation says by its nature: the file itself, the instrument (Humdrum does), whether its tempo is printed
OWN = {"file", "sha256", "program", "origin"}


def _record(suffix: str) -> Any:
    interpretation = interpret(BROOK / f"brook.{suffix}")
    return survey_record(interpretation, select(interpretation, all_parts=True, bars=None))


def _without_own(found: Any) -> Any:
    if isinstance(found, dict):
        return {name: _without_own(value) for name, value in found.items() if name not in OWN}
    return [_without_own(each) for each in found] if isinstance(found, list) else found


@pytest.mark.parametrize("suffix", NOTATIONS[1:])
def test_one_piece_gives_one_survey(suffix: str) -> None:
    """Invented for this: 13 signs, each of a kind of its own, in MusicXML, ABC, MEI and Humdrum."""
    expected = _record("musicxml")
    assert 13 == len(expected["ornaments"])
    assert _without_own(expected) == _without_own(_record(suffix))


@pytest.mark.parametrize("suffix", ["abc", "mei"])
def test_one_piece_sounds_the_same(suffix: str) -> None:
    """Byte for byte as MIDI."""
    first, second = (interpret(BROOK / f"brook.{each}") for each in ("musicxml", suffix))
    made = [midi_bytes(play(each, each.order(None, repeats=True))) for each in (first, second)]
    assert made[0] == made[1]


@pytest.mark.parametrize("suffix", NOTATIONS[1:])
def test_the_tree_of_another_notation_is_its_score(suffix: str) -> None:
    """Notes stand in the order of their numbers, and read again they are the same signs."""
    path = BROOK / f"brook.{suffix}"
    score, again = read_score(path), score_of(load(path).root, "x.musicxml")
    assert [(sign.place, sign.kind) for sign in find_signs(score)] == [
        (sign.place, sign.kind) for sign in find_signs(again)
    ]
    ordinals = [
        [event.ordinal for part in each.parts for voice in part.voices for event in voice.events]
        for each in (score, again)
    ]
    assert ordinals[0] == ordinals[1]


@pytest.mark.parametrize("suffix", NOTATIONS)
def test_every_notation_is_written_out(suffix: str) -> None:
    """The same lawful line over the solo."""
    path = BROOK / f"brook.{suffix}"
    text, line = notated(path, interpret(path), "above")
    assert b"written out" in text
    assert len(line.signs) >= 10


@pytest.mark.parametrize("suffix", NOTATIONS)
def test_every_notation_has_names_for_the_page(suffix: str) -> None:
    """Each sign finds its notes in the engraved score."""
    marked = mark_score(BROOK / f"brook.{suffix}")
    assert 13 == len(marked.notes)
    assert all(sign.main for sign in marked.notes.values())


def test_a_plan_fits_its_score_in_every_process(tmp_path: Path) -> None:
    """What was decided a minute ago is not "for another score": names and fingerprints are the text's."""
    script = (
        "import sys, hashlib; from appui.notations.read import read_score; from appui.score.shelf import stored;"
        "print(*[hashlib.sha256(stored(read_score(path))).hexdigest() for path in sys.argv[1:]])"
    )
    files = [str(BROOK / f"brook.{suffix}") for suffix in NOTATIONS]
    found = {
        subprocess.run(
            [sys.executable, "-c", script, *files],
            capture_output=True,
            text=True,
            check=True,
            env=os.environ | {"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert 1 == len(found)
    for suffix in ("abc", "krn"):
        plan = tmp_path / f"{suffix}.toml"
        CliRunner().invoke(cli, ["survey", str(BROOK / f"brook.{suffix}"), "--plan-out", str(plan)])
        done = CliRunner().invoke(cli, ["survey", str(BROOK / f"brook.{suffix}"), "--plan", str(plan), "--json"])
        assert 0 == done.exit_code, done.output


@pytest.mark.parametrize(
    ("name", "data", "notation"),
    [
        ("a.musicxml", b"<?xml version='1.0'?><score-partwise/>", "musicxml"),
        ("a.xml", b"<mei xmlns='x'/>", "mei"),
        ("a.mei", b"<score-partwise/>", "musicxml"),
        ("a.txt", b"X:1\nK:C\n", "abc"),
        ("a.krn", b"X:1\nK:C\n", "abc"),
        ("a.abc", b"**kern\n", "humdrum"),
        ("a.abc", b"T:no number\nK:C\n", "abc"),
        ("a.krn", b"4c\n", "humdrum"),
        ("a.abc", b"%PDF-1.7", "musicxml"),
        ("a.abc", b"PK\x03\x04", "musicxml"),
        ("a.abc", b"\x89PNG\r\n", "musicxml"),
        ("a.mxl", b"PK\x03\x04", "musicxml"),
        ("a.doc", b"Dear oboist,", "musicxml"),
    ],
)
def test_the_notation_is_told_by_what_is_in_the_file(name: str, data: bytes, notation: str) -> None:
    """The name decides only between plain texts."""
    assert notation == notation_of(Path(name), data)


@pytest.mark.parametrize(
    "start", [b"%PDF-1.7\n", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0", b"II*\x00", b"AT&TFORM", b"%!PS-Adobe"]
)
def test_paper_gets_a_way_on(start: bytes, tmp_path: Path) -> None:
    """A PDF or picture is refused with the way to type the solo."""
    path = tmp_path / "solo.pdf"
    path.write_bytes(start)
    with pytest.raises(
        ScoreError, match=r"^solo\.pdf: is .*Remedy: export .* MusicXML.*, or type the solo: `appui new SOLO\.abc`"
    ):
        read_score(path)


@pytest.mark.parametrize("data", [b"Dear oboist,", b"\x00\x01\x02\x03binary", b"<html/>"])
def test_files_of_other_programs_get_a_way_on(data: bytes, tmp_path: Path) -> None:
    """Export MusicXML, or type the solo and a chart."""
    path = tmp_path / "solo.xyz"
    path.write_bytes(data)
    with pytest.raises(ScoreError, match=r"Remedy: export the score again as MusicXML .*appui new SOLO\.abc.*chart"):
        read_score(path)


@pytest.mark.parametrize("suffix", ["abc", "krn", "mei"])
def test_odd_files_are_refused(suffix: str, tmp_path: Path) -> None:
    """Empty ones, folders, and texts with bytes no text has."""
    path = tmp_path / f"solo.{suffix}"
    path.write_bytes(b"")
    with pytest.raises(ScoreError, match="is empty"):
        read_score(path)
    path.write_bytes(b"X:1\nK:C\nc\x00d\n")
    with pytest.raises(ScoreError, match="Remedy: "):
        read_score(path)
    with pytest.raises(ScoreError, match="is a folder"):
        read_score(tmp_path)


def test_older_texts_are_latin_1(tmp_path: Path) -> None:
    """As many collections are."""
    path = tmp_path / "solo.abc"
    path.write_bytes("X:1\nT:Für Oboe\nK:C\nc\n".encode("latin-1"))
    assert "Für Oboe" == read_score(path).title


def test_the_fingerprint_is_that_of_the_text() -> None:
    """So that a plan knows its score again."""
    path = BROOK / "brook.abc"
    assert hashlib.sha256(path.read_bytes()).hexdigest() == read_score(path).sha256


def test_new_writes_an_example_that_teaches(tmp_path: Path) -> None:
    """It is read without a notice, the same small note leans in one place and not in another; its name is in it."""
    path = tmp_path / "solo.abc"
    done = CliRunner().invoke(cli, ["new", str(path)])
    assert (0, True) == (done.exit_code, f"appui survey {path}" in done.output)
    assert "THIS_FILE" not in path.read_text(encoding="utf-8")
    assert () == tuple(score_of_abc(example(), "x.abc").notices)
    survey = json.loads(CliRunner().invoke(cli, ["survey", str(path), "--json"]).stdout)
    readings = {one["id"]: (one["written"], one["reading"]["name"]) for one in survey["ornaments"]}
    assert (["D5"], "leaning") == readings["oboe.5.1"]
    assert readings["oboe.2.1"][0] == ["D5"]
    assert "leaning" != readings["oboe.2.1"][1]


def test_new_leaves_what_is_there(tmp_path: Path) -> None:
    """A solo half typed is not written over; another suffix is refused."""
    path = tmp_path / "solo.abc"
    path.write_text("X:1\nK:C\nmine\n", encoding="utf-8")
    for name, words in (("solo.abc", "is there already"), ("solo.txt", "name it .abc")):
        done = CliRunner().invoke(cli, ["new", str(tmp_path / name)])
        assert isinstance(done.exception, AppuiError)
        assert words in str(done.exception)
    assert "mine" in path.read_text(encoding="utf-8")


def test_the_musicxml_of_the_brook_is_what_its_abc_says() -> None:
    """The file beside the others was written from the ABC by this tool and is held to it."""
    from appui.musicxml.write.score import score_tree

    assert (BROOK / "brook.musicxml").read_bytes() == file_bytes(score_tree(read_score(BROOK / "brook.abc")))
