"""A score is read while it is parsed, and nothing of that can be told from what comes out."""

from __future__ import annotations

from pathlib import Path

import pytest

from appui.errors import ScoreError
from appui.musicxml.read.score import read_score, score_of
from appui.musicxml.read.source import Stream, load
from appui.score.model import Score
from tests.written import backup, bar, grace, note, part, text

PAGE = text(
    part(bar(note("C5", 8), backup(8), note("E4", 8, voice="2")), bar(grace("D5"), note("C5", 8))),
    part(bar(note("C3", 8)), bar(note("G3", 8)), name="Violoncello"),
)


def _read(page: str, folder: Path) -> tuple[Score, Score]:
    """The score as read from the file, and as made from its whole tree."""
    path = folder / "page.musicxml"
    path.write_text(page, encoding="utf-8")
    source = load(path)
    return read_score(path), score_of(source.root, source.file, source.sha256)


def test_bar_by_bar_gives_what_the_whole_tree_gives(tmp_path: Path) -> None:
    """The same notes, names, notices and lines."""
    streamed, whole = _read(PAGE, tmp_path)
    assert streamed == whole


@pytest.mark.parametrize(
    "change",
    [
        ("</score-partwise>", "<part-list/></score-partwise>"),
        ("<part-list>", "<work><work-title>Air</work-title></work><part-list>"),
        ("</score-partwise>", "<movement-title>Air</movement-title></score-partwise>"),
        ('<part id="P2">', '<part id="P1">'),
        ('<part id="P2">', '<part id="unlisted">'),
        ('<measure number="2">', '<measure number="2"><measure><note/></measure><part id="P1"/>'),
        ("<score-partwise ", '<score-partwise xmlns="urn:x" '),
    ],
)
def test_an_odd_page_is_read_alike(change: tuple[str, str], tmp_path: Path) -> None:
    """Titles after the music, parts of one id, bars within bars, a namespace."""
    streamed, whole = _read(PAGE.replace(*change), tmp_path)
    assert streamed == whole


def test_two_parts_without_an_id_are_two(tmp_path: Path) -> None:
    """Each has its own notes, the first what the list says of a part without an id."""
    page = PAGE.replace('<score-part id="P1">', "<score-part>")
    streamed, whole = _read(page.replace('<part id="P1">', "<part>").replace('<part id="P2">', "<part>"), tmp_path)
    assert ["Oboe", "Part 2"] == [part.name for part in streamed.parts]
    assert [3, 2] == [sum(len(voice.events) for voice in part.voices) for part in streamed.parts]
    assert streamed == whole


def test_parts_before_the_part_list_have_its_names(tmp_path: Path) -> None:
    """They are kept until the list has come."""
    head, listed, rest = PAGE.partition("<part-list>")
    names, end, parts = rest.partition("</part-list>")
    late = head + parts.replace("</score-partwise>", listed + names + end + "</score-partwise>")
    streamed, whole = _read(late, tmp_path)
    assert ["Oboe", "Violoncello"] == [part.name for part in streamed.parts]
    assert streamed == whole


def test_a_wrong_note_is_named_by_its_line(tmp_path: Path) -> None:
    """Beyond the 65,535th too, where the parser's own count ends."""
    path = tmp_path / "page.musicxml"
    wrong = PAGE.replace("<duration>8</duration>", "<duration>much</duration>").replace("<part-list>", "\n" * 70_000)
    path.write_text(wrong.replace('<score-part id="P1">', '<part-list><score-part id="P1">'), encoding="utf-8")
    line = wrong.partition("<duration>much")[0].count("\n") + 1
    with pytest.raises(ScoreError, match=f"part Oboe, bar 1, line {line}"):
        read_score(path)


def test_broken_xml_is_named_by_its_line(tmp_path: Path) -> None:
    """What broke on the way is said as if nothing had been read before."""
    path = tmp_path / "page.musicxml"
    path.write_text(PAGE.replace("</part>", "</pfart>"), encoding="utf-8")
    with pytest.raises(ScoreError, match="broken XML") as found:
        read_score(path)
    with pytest.raises(ScoreError, match="broken XML") as before:
        load(path)
    assert str(before.value) == str(found.value)


def test_a_bar_that_has_been_taken_out_is_gone() -> None:
    """The tree holds what is left in it and no more."""
    stream = Stream(PAGE.encode(), "page")
    for element in stream:
        element.clear()
    assert [] == list(stream.root.iter("note"))
    assert 2 == len(stream.root.findall("part"))
