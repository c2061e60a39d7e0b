"""Mutants that once ended in something else, each by its way and seed: now a refusal that says why, or a result."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from appui.interpret.interpretation import interpret
from appui.practice.click import ClickPattern
from appui.practice.plan import make_track
from appui.practice.wish import Wish
from tests.fuzz.laws import guarded
from tests.fuzz.ways import WAYS

#  the way, the seed, what it showed
FINDINGS = (
    ("notate", 200039, "a score without a part list"),
    ("notate", 300324, "divisions so fine that what was written could not be read again"),
    ("notate", 301872, "the same in an ossia"),
    ("page", 500019, "the engraver ended by a wrong address"),
    ("page", 500130, "the same"),
    ("notate", 310348, "a chord note whose chord was a small note: the bar came out shorter"),
    ("practice", 400003, "clicks for fourteen hours"),
    ("midi", 901192, "a trill of half an hour, sixty times"),
)


@pytest.mark.parametrize(("way", "seed"), [finding[:2] for finding in FINDINGS])
def test_what_was_found_is_mended(way: str, seed: int, tmp_path: Path) -> None:
    """As long as the corpus and the maker of mutants are the same, the same files."""
    name, make, do = WAYS[way]
    (tmp_path / name).write_bytes(make(seed).data)
    # a track may be refused for its length, which no score is
    ends = ("result", "ScoreError", "SoundError") if way == "practice" else ("result", "ScoreError")
    assert guarded(tmp_path / name, random.Random(seed), do) in ends  # noqa: S311


def test_a_tempo_and_a_fermata_in_every_bar_are_soon_played(tmp_path: Path) -> None:
    """What holds at a moment is looked up, not searched for from the beginning: bars cost as much as few of them."""
    held, pitch = "<notations><fermata/></notations>", "<pitch><step>C</step><octave>5</octave></pitch>"
    bars = "".join(
        f"<measure number='{bar}'><sound tempo='{60 + bar % 100}'/><note>{pitch}"
        f"<duration>4</duration>{held if bar % 4 == 0 else ''}</note></measure>"
        for bar in range(4_000)
    )
    path = tmp_path / "solo.xml"
    path.write_text(f"<score-partwise><part-list/><part id='P'>{bars}</part></score-partwise>", encoding="utf-8")
    wish = Wish(click=ClickPattern("beats"))

    def practised(path: Path, chance: random.Random) -> str:
        del chance
        return str(len(make_track(interpret(path), wish).tempos) > 4_000)

    assert "True" == guarded(path, random.Random(0), practised)  # noqa: S311
