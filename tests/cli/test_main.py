"""What a newcomer meets first: `appui` alone, a mistyped command, the Tab key."""

import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from appui.cli.main import _COMMANDS, cli


def test_alone_it_tells_the_three_steps() -> None:
    """Whoever types nothing else has done nothing wrong."""
    done = CliRunner().invoke(cli, [])
    assert 0 == done.exit_code
    assert all(f"{number}. " in done.output for number in (1, 2, 3))
    assert max(map(len, done.output.splitlines())) <= 80


def test_a_mistyped_command_is_told_the_nearest() -> None:
    """A letter left out."""
    done = CliRunner().invoke(cli, ["suvey"])
    assert 2 == done.exit_code
    assert "there is no command 'suvey'. Is `appui survey` meant?" in done.output


@pytest.mark.parametrize("name", [name for name in _COMMANDS if name != "manual"])
def test_the_help_of_a_command_names_its_page(name: str) -> None:
    """Whoever wants to know more is told where."""
    assert "More: `appui manual " in " ".join(CliRunner().invoke(cli, [name, "--help"]).output.split())


def test_the_list_of_commands_shows_whole_sentences() -> None:
    """Each says in one line what it does."""
    lines = CliRunner().invoke(cli, ["--help"], terminal_width=110).output.splitlines()
    begin = lines.index("Commands:") + 1
    assert [*_COMMANDS] == [line.split()[0] for line in lines[begin : begin + len(_COMMANDS)]]
    assert [] == [line for line in lines[begin:] if line.endswith("...")]


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("appui sur", "survey"), ("appui survey --pl", "--plan"), ("appui styles --comp", "--compare")],
)
def test_the_tab_key_completes(typed: str, offered: str) -> None:
    """Commands and options, as the line in `appui manual start` sets it up."""
    words = {"_APPUI_COMPLETE": "bash_complete", "COMP_WORDS": typed, "COMP_CWORD": str(len(typed.split()) - 1)}
    done = subprocess.run(
        [sys.executable, "-m", "appui"], env=os.environ | words, capture_output=True, text=True, check=True
    )
    assert f"plain,{offered}" in done.stdout.splitlines()
