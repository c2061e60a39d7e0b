"""The demo prepared once, and small scores written here."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from appui.demo import demo_score
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes


@pytest.fixture(scope="session")
def interpretation() -> Interpretation:
    """The demo's movement, 6/8, with a repeated reading at hand."""
    return interpret(demo_score())


@pytest.fixture(scope="session")
def written(tmp_path_factory) -> Any:
    """Open a score of two parts, a flute over a bass, from bars of MusicXML notes for each."""

    def make(bars: list[tuple[str, str]], *, head: str = "", qpm: int = 60) -> Interpretation:
        parts = []
        for part in (0, 1):
            written = []
            for number, each in enumerate(bars):
                first = f"<attributes><divisions>2</divisions>{head}</attributes>" if number == 0 else ""
                tempo = f'<sound tempo="{qpm}"/>' if number == 0 and part == 0 else ""
                implicit = ' implicit="yes"' if "<!--pickup-->" in each[0] else ""
                name = number if "<!--pickup-->" in bars[0][0] else number + 1
                written.append(f'<measure number="{name}"{implicit}>{first}{tempo}{each[part]}</measure>')
            parts.append(f'<part id="P{part + 1}">{"".join(written)}</part>')
        names = "".join(
            f'<score-part id="P{n}"><part-name>{name}</part-name></score-part>'
            for n, name in ((1, "Flute"), (2, "Bass"))
        )
        text = (
            '<?xml version="1.0"?><score-partwise version="4.0"><part-list>'
            f"{names}</part-list>{''.join(parts)}</score-partwise>"
        )
        file: Path = tmp_path_factory.mktemp("score") / "x.musicxml"
        file.write_text(text)
        return interpret(file, Wishes(solo="Flute"))

    return make


def _note(step: str, eighths: int, extra: str = "") -> str:
    pitch = f"<pitch><step>{step[0]}</step><octave>{step[1]}</octave></pitch>"
    return f"<note>{pitch}<duration>{eighths}</duration>{extra}</note>"


@pytest.fixture(scope="session")
def note():
    """One note in MusicXML: `note("C4", 2)` is a quarter."""
    return _note


@pytest.fixture(scope="session")
def meter():
    """A meter in MusicXML."""
    return lambda beats, unit: f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
