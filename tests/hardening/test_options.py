"""Numbers on the command line that are none."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from appui.cli.main import cli

FERRY = str(files("appui.demo").joinpath("ferry.musicxml"))


@pytest.mark.parametrize("option", ["--hold", "--weight", "--weight-written-out"])
@pytest.mark.parametrize("word", ["nan", "inf", "1e400", "-nan"])
def test_what_is_no_number_is_refused(option: str, word: str, tmp_path: Path) -> None:
    """Exit status 2 and nothing written; `nan` is neither below nor above a bound."""
    done = CliRunner().invoke(cli, ["render", FERRY, str(tmp_path / "x.mid"), option, word])
    assert (2, []) == (done.exit_code, list(tmp_path.iterdir()))
