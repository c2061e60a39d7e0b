"""The musician's labels of the demo: one for each sign the reader finds in the oboe, none left over."""

from __future__ import annotations

import tomllib
from pathlib import Path

from appui.demo import demo_score
from appui.musicxml.read.score import read_score
from appui.score.signs import find_signs

LABELS = Path(__file__).parent.parent / "data" / "demo_expected.toml"
EXPECTED = {"lean", "pass", "short", "after", "trill", "turn", "termination", "hold"}


def _labels() -> list[dict[str, str]]:
    signs: list[dict[str, str]] = tomllib.loads(LABELS.read_text(encoding="utf-8"))["sign"]
    return signs


def test_every_sign_has_its_label() -> None:
    """Places of the table and of the score are the same, in the same order."""
    places = [sign.place for sign in find_signs(read_score(demo_score())) if sign.place.startswith("oboe.")]
    assert [label["place"] for label in _labels()] == places


def test_labels_are_of_the_known_kinds() -> None:
    """A slip of the pen in `expect` would make a check pass over it."""
    assert set() == {label["expect"] for label in _labels()} - EXPECTED


def test_the_score_tells_one_page_two_ways() -> None:
    """The demo's point: D6 before C6, printed alike, comes before the beat in bar 2 and leans in bar 20."""
    label = {label["place"]: label for label in _labels()}
    signs = {sign.place: sign for sign in find_signs(read_score(demo_score()))}
    printed = [tuple((s.written, s.value_q, s.slash) for s in signs[p].small) for p in ("oboe.2.1", "oboe.20.1")]
    assert printed[0] == printed[1]
    assert ["pass", "lean"] == [label[place]["expect"] for place in ("oboe.2.1", "oboe.20.1")]
