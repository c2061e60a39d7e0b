"""Tables for people: at the stand's width and narrower, with what is odd on standard error."""

from pathlib import Path

import pytest

from appui import demo
from appui.cli.show import print_head, print_json, print_notices, print_results, print_style, print_survey, progress
from appui.drill.fit import Detection, Threshold
from appui.drill.kinds import KINDS
from appui.drill.results import Result
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.style.table import load_style
from tests.written import bar, note, part, text

FERRY = Path(demo.__file__).with_name("ferry.musicxml")
Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module", name="ferry")
def _ferry() -> Interpretation:
    """The demo for oboe."""
    return interpret(FERRY, Wishes(solo="oboe"))


def survey(ferry: Interpretation, capsys: Captured, columns: int, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The lines of the survey of two ornaments at a width."""
    monkeypatch.setenv("COLUMNS", str(columns))
    print_survey(ferry, [sign for sign in ferry.signs if sign.small][:2])
    return capsys.readouterr().out.splitlines()


@pytest.mark.parametrize("columns", [40, 60, 80, 109, 110, 160])
def test_no_line_is_wider_than_the_terminal(
    ferry: Interpretation, capsys: Captured, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    """As a table or one below the other."""
    assert max(map(len, survey(ferry, capsys, columns, monkeypatch))) <= columns


def test_five_columns_need_room(ferry: Interpretation, capsys: Captured, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there is less each ornament is a paragraph, with the same words."""
    wide = survey(ferry, capsys, 120, monkeypatch)
    narrow = survey(ferry, capsys, 60, monkeypatch)
    assert any("harmony" in line and "played" in line for line in wide)
    assert not any("harmony" in line and "played" in line for line in narrow)
    assert any(line.startswith("oboe.2.1  ") for line in narrow)


def test_a_score_without_ornaments_says_so(capsys: Captured, tmp_path: Path) -> None:
    """It is played as it stands; and a solo alone has no harmony to judge by."""
    file = tmp_path / "plain.musicxml"
    file.write_text(text(part(bar(note("C5", 16)))), encoding="utf-8")
    print_survey(interpret(file), [])
    shown = capsys.readouterr()
    assert "it is played as it stands" in shown.out
    assert "No accompaniment" in shown.err


def test_a_guessed_solo_is_told_with_the_way_to_another(capsys: Captured) -> None:
    """Not where it was named."""
    print_head(interpret(FERRY))
    assert "(guessed; --solo names another)" in capsys.readouterr().out
    print_head(interpret(FERRY, Wishes(solo="oboe")))
    assert "guessed" not in capsys.readouterr().out


def test_notices_go_to_standard_error_and_have_an_end(capsys: Captured) -> None:
    """Twenty of a hundred."""
    print_notices([(f"bar {number}", "odd") for number in range(100)])
    shown = capsys.readouterr()
    assert ("", 20) == (shown.out, len(shown.err.splitlines()))


def test_data_keeps_its_letters(capsys: Captured) -> None:
    """No escapes for a flat or an umlaut."""
    print_json({"place": "Flöte", "pitch": "B♭4"})
    assert '"Flöte"' in (shown := capsys.readouterr().out)
    assert "B♭4" in shown


def test_nobody_who_does_not_watch_is_told_of_progress(capsys: Captured) -> None:
    """Standard error may be a file."""
    say = progress(3)
    for _ in range(3):
        say("working")
    assert ("", "") == capsys.readouterr()


@pytest.mark.parametrize("columns", [60, 120])
def test_results_are_told_with_their_numbers(capsys: Captured, monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    """As a table, or as a paragraph a sitting."""
    monkeypatch.setenv("COLUMNS", str(columns))
    found = Threshold(2.2, 1.3, 2.9, 0.5, 43)
    kind = KINDS["heavier"]
    print_results(
        [Result(kind, "Ada", "a", "2026-01-02T10:00:00+00:00", 43, 30, found, 2.2, Detection(1.17, 0.38), 5, 5, 1.0)]
    )
    shown = " ".join(capsys.readouterr().out.split())
    assert "Ada" in shown
    assert "2026-01-02 10:00" in shown
    assert "30 of 43" in shown
    assert "1.17" in shown


def test_a_style_says_how_its_rules_are_known(capsys: Captured) -> None:
    """How many, and where it is silent."""
    style = load_style("bach-1753")
    print_style(style)
    shown = " ".join(capsys.readouterr().out.split())
    assert f"{len(style.rules)} rules of its own" in shown
    assert "Where it is silent:" in shown
