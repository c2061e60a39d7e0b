"""Markdown at the terminal."""

import pytest

from appui.cli.markdown import print_markdown

PAGE = """# Head

A word typed as `appui survey`.

| sign | means | also |
|---|---|---|
| a | one | |
| b | two | three |

```
appui render score.musicxml out.mid --bars 5-12 --tempo 60% --take oboe.7.1=before --style bach-1753 --solo oboe
```
"""


def printed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], width: int) -> str:
    """The page as printed where it is read by a program, so many columns wide."""
    monkeypatch.setenv("COLUMNS", str(width))
    print_markdown(PAGE)
    return capsys.readouterr().out


def test_an_example_is_not_broken_up(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """It can be copied from a narrow terminal."""
    assert PAGE.splitlines()[-2] in printed(monkeypatch, capsys, 60)


def test_a_table_is_a_list_where_it_has_no_room(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each row an item, its cells after the names of their columns, empty ones left out."""
    narrow = " ".join(printed(monkeypatch, capsys, 60).split())
    assert "a: means: one" in narrow
    assert "b: means: two; also: three" in narrow
    assert "means: two" not in " ".join(printed(monkeypatch, capsys, 100).split())


def test_marks_stay_where_there_is_no_colour(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is typed is told by them, and a heading too."""
    plain = printed(monkeypatch, capsys, 100)
    assert "`appui survey`" in plain
    assert "# Head" in plain
