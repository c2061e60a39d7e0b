"""The survey on paper: a row for every ornament, its bar, a reason in five words, a box to tick."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from lxml import etree
from pypdf import PdfReader

from appui.cli.main import cli
from appui.compare.survey import select
from appui.errors import UsageError
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.page.survey_sheet import rows_of, sheet_bytes, sheet_pages
from tests.there import there

SVG = "{http://www.w3.org/2000/svg}"


def rows(player: Interpretation, **options: Any) -> list[Any]:
    """The rows of the solo's ornaments."""
    return [row for _, row in rows_of(player, select(player, all_parts=False, bars=None), **options)]


@pytest.mark.parametrize(
    ("place", "chord", "decision", "reason"),
    [
        ("2.1", "D7/F♯, V6/5", "before", "belongs to the chord"),
        ("4.1", "D, V", "leaning 1/2", "dissonant fourth, resolves"),
        ("3.1+2/3", "Gm, i", "short", "fills a falling third"),
        ("25.1", "Gm/D, i6/4", "leaning 1/2", "in a cadential six-four"),
        ("22.2", "D7, V7", "trill from above with its end", "begins above and ends"),
        ("13.2", "E♭, VI", "turn after the note", "between a dotted note"),
    ],
)
def test_a_row_says_it_in_a_few_words(
    interpretation: Interpretation, place: str, chord: str, decision: str, reason: str
) -> None:
    """Chord, way of playing without its finer sizes, and why."""
    row = next(row for row in rows(interpretation) if row.place == place)
    assert ("oboe", chord, decision, reason, False) == (row.part, *row[2:])


def test_no_reason_has_more_than_five_words(demo: Path) -> None:
    """Under every manual."""
    for style in ("harmony", "bach-1753", "clementi-1801", "tuerk-1789", "measured"):
        player = interpret(demo, Wishes(style=style))
        assert all(1 <= len(row.reason.split()) <= 5 for row in rows(player)), style


def test_what_the_player_decided_is_his(demo: Path) -> None:
    """Whatever the rule says."""
    player = interpret(demo, Wishes(takes=("oboe.2.1=leaning 1/3",)))
    row = next(row for row in rows(player) if row.place == "2.1")
    assert ("leaning 1/3", "your decision") == (row.decision, row.reason)


def test_what_is_doubtful_comes_first_on_request(demo: Path) -> None:
    """The others stay in the order of their bars."""
    player = interpret(demo)
    verdict = there(player.analysis.verdict(player.sign_at("oboe.20.1")))
    fields = {name: getattr(verdict, name) for name in verdict.__slots__} | {"doubtful": True}
    player.analysis._kept["verdict", "oboe.20.1"] = type(verdict)(**fields)
    usual = [row.place for row in rows(player)]
    first = [row.place for row in rows(player, doubtful_first=True)]
    assert ["20.1", *(place for place in usual if place != "20.1")] == first


def test_every_ornament_has_its_bar_and_a_box(interpretation: Interpretation, demo: Path) -> None:
    """Thirty on one page; the mark is under a note of the bar."""
    signs = select(interpretation, all_parts=False, bars=None)
    (page,) = sheet_pages(demo, interpretation, rows_of(interpretation, signs))
    root = etree.fromstring(page.encode())
    bars = [node for node in root.iter(f"{SVG}g") if node.get("class") == "bar"]
    assert (30, 30 + 1) == (len(bars), len([node for node in root if node.tag == f"{SVG}rect"]))
    shapes = {node.get("id") for node in there(root.find(f"{SVG}defs"))}
    used = {there(node.get("href")).removeprefix("#") for bar in bars for node in bar.iter(f"{SVG}use")}
    assert used
    assert used <= shapes
    for bar in bars:
        marks = [node for node in bar.iter(f"{SVG}path") if "l-120 210" in (node.get("d") or "")]
        (x, _) = (float(word) for word in there(marks[0].get("d"))[1:].split(" l")[0].split())
        assert 0 < x < float(there(bar.get("data-width")))


def test_a_longer_list_goes_on_to_another_page(interpretation: Interpretation, demo: Path) -> None:
    """Pages are numbered."""
    signs = select(interpretation, all_parts=False, bars=None)
    pages = sheet_pages(demo, interpretation, rows_of(interpretation, signs) * 2)
    assert 2 == len(pages)
    assert "2 of 2" in pages[1]


def test_nothing_to_decide_is_a_sheet_too(interpretation: Interpretation, demo: Path) -> None:
    """A head and no rows."""
    (page,) = sheet_pages(demo, interpretation, [])
    assert "0 ornaments" in etree.tostring(etree.fromstring(page.encode()), method="text", encoding="unicode")


def test_another_ending_is_refused(interpretation: Interpretation, demo: Path) -> None:
    """With those there are."""
    with pytest.raises(UsageError, match=r"x\.doc ends in \.doc; a sheet ends in \.pdf or \.html"):
        sheet_bytes(demo, interpretation, [], Path("x.doc"))


def test_markup_in_the_title_stays_text(hostile: Path, hostile_text: str) -> None:
    """A score cannot write into the page."""
    player = interpret(hostile)
    signs = select(player, all_parts=False, bars=None)
    data, _ = sheet_bytes(hostile, player, rows_of(player, signs), Path("x.html"))
    assert hostile_text not in data.decode()


@pytest.mark.parametrize("suffix", [".pdf", ".html"])
def test_the_command_writes_a_sheet(tmp_path: Path, demo: Path, suffix: str) -> None:
    """Beside the survey it prints as ever; in the order of the bars, with all parts if asked for."""
    out = tmp_path / f"sheet{suffix}"
    done = CliRunner().invoke(cli, ["survey", str(demo), "--sheet", str(out), "--all-parts"])
    assert (0, True) == (done.exit_code, f"sheet written: {out}, 1 page" in done.output)
    text = PdfReader(out).pages[0].extract_text() if suffix == ".pdf" else out.read_text(encoding="utf-8")
    assert "33 ornaments" in text
    assert "violoncello" in text
    assert "fills a falling third" in text
