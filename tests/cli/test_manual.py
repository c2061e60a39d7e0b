"""The manual: its pages are whole, and the command `manual` shows them at any terminal."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from appui.cli.main import _COMMANDS, cli
from appui.manual.pages import PAGES, SEE, find, pages
from appui.style.choose import READINGS_FOR
from appui.style.reading import FAMILIES

TOP = Path(__file__).parents[2]
MANUAL = TOP / "src" / "appui" / "manual"


def run(*words: str, columns: int = 80) -> Result:
    return CliRunner(env={"COLUMNS": str(columns)}).invoke(cli, ["manual", *words])


def test_the_list_names_every_page() -> None:
    """A page that is not listed is not read."""
    printed = run().output
    assert [] == [name for name in PAGES if f"{name}:" not in printed]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_shown(name: str) -> None:
    """Its title first; links become commands."""
    done = run(name)
    assert 0 == done.exit_code
    assert done.output.startswith(f"# {find(name).title}\n")
    assert ".md)" not in done.output


@pytest.mark.parametrize("columns", [40, 60, 200])
def test_sentences_fit_the_terminal(columns: int) -> None:
    """Words are not broken; lines are no longer than the terminal, or than the eye likes."""
    prose = [line for line in run("decide", columns=columns).output.splitlines() if not line.startswith("  ")]
    assert max(map(len, prose)) <= min(columns, 100)


def test_an_example_can_be_copied_from_a_narrow_terminal() -> None:
    """A command is one line, however long."""
    assert (
        "  $ appui compare appui-demo/ferry.musicxml heard --at oboe.20.1 --tempo 60%\n"
        in run("decide", columns=40).output
    )


def test_a_table_becomes_a_list_on_a_narrow_terminal() -> None:
    """No word is cut."""
    done = run("ear", columns=40).output
    assert "…" not in done.replace("main …", "")
    assert "member-or-dissonance" in done


def test_an_unknown_topic_names_the_nearest() -> None:
    """One letter wrong is enough."""
    done = run("practize")
    assert done.exit_code
    assert "practise" in str(done.exception)


def test_every_command_has_a_page() -> None:
    """Whoever knows the command finds what is written about it."""
    assert [] == [name for name in _COMMANDS if name not in {*PAGES, *SEE, "manual"}]
    assert set(SEE.values()) <= set(PAGES)


def test_the_folder_holds_the_pages_that_are_listed() -> None:
    """None is forgotten, each says in one sentence what it is about."""
    assert sorted(PAGES) == sorted(file.stem for file in MANUAL.glob("*.md"))
    assert [] == [page.name for page in pages() if not re.fullmatch(r"[A-Z].+\.", page.about)]


def test_every_ornament_and_way_of_playing_is_listed() -> None:
    """The tables of the page are those the program goes by."""
    text = (MANUAL / "styles.md").read_text("utf-8")
    ways = [f"| {one.name}: {one.meaning} | {one.pattern.replace('|', '&#124;')} |" for one in FAMILIES.values()]
    assert [] == [line for line in ways if line not in text.splitlines()]
    names = [*READINGS_FOR.keys() - {"after-notes", "embellishment"}, "small notes after a note"]
    assert [] == [name for name in names if f"{name} (`" not in text]


@pytest.mark.parametrize("file", [TOP / "README.md", TOP / "DEVELOPERS.md", *sorted(MANUAL.glob("*.md"))])
def test_links_lead_somewhere(file: Path) -> None:
    """Links between pages and to files are there."""
    targets = re.findall(
        r"\]\((?!https?:)([^)#]+)\)", re.sub(r"```.*?```", "", file.read_text("utf-8"), flags=re.DOTALL)
    )
    assert [] == [target for target in targets if not (file.parent / target).exists()]


@pytest.mark.parametrize(("name", "most"), [("README.md", 8_000), ("DEVELOPERS.md", 12_000)])
def test_first_pages_stay_short(name: str, most: int) -> None:
    """Who comes first reads them to the end; the rest is the manual's."""
    assert (TOP / name).stat().st_size <= most
