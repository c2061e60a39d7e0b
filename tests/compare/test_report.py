"""A rendering and a style as data."""

import json
from pathlib import Path

import pytest

from appui import demo
from appui.compare.report import render_record, style_record
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.style.table import load_style, style_names

FERRY = Path(demo.__file__).with_name("ferry.musicxml")


@pytest.fixture(scope="module", name="ferry")
def _ferry() -> Interpretation:
    """The demo for oboe."""
    return interpret(FERRY, Wishes(solo="oboe"))


def test_a_rendering_is_data_that_can_be_written(ferry: Interpretation) -> None:
    """As JSON, with its files, solo and style."""
    record = render_record(ferry, play(ferry, ferry.order("1-4")), [Path("a.mid")])
    assert record == json.loads(json.dumps(record))
    assert (["a.mid"], "Oboe", "harmony") == (record["files"], record["solo"]["name"], record["style"])


def test_every_note_that_sounds_is_in_it(ferry: Interpretation) -> None:
    """Part by part, with level and onset in seconds and quarters."""
    made = play(ferry, ferry.order("1-4"))
    record = render_record(ferry, made, [])
    assert [len(part.notes) for part in made.parts] == [len(part["notes"]) for part in record["parts"]]
    first = record["parts"][0]["notes"][0]
    assert {"onset_q", "duration_q", "onset_s", "duration_s", "pitch", "velocity", "role", "level_db"} <= set(first)


def test_a_sign_played_twice_has_the_tones_of_both_turns(ferry: Interpretation) -> None:
    """One entry, under its place."""
    (bar,) = ferry.order("2")
    again = bar._replace(onset_q=ferry.score.bars[bar.bar].length_q, turn=2)
    once, twice = (render_record(ferry, play(ferry, order), [])["signs"] for order in ([bar], [bar, again]))
    assert ["oboe.2.1"] == [sign["id"] for sign in once] == [sign["id"] for sign in twice]
    assert 2 * len(once[0]["tones"]) == len(twice[0]["tones"])


@pytest.mark.parametrize("name", style_names())
def test_a_style_has_all_its_rules(name: str) -> None:
    """Each with where it is from and how that is known; it can be written as JSON."""
    style = load_style(name)
    record = style_record(style)
    assert len(style.rules) == len(record["rules"])
    assert all(rule["cite"] and rule["known"] for rule in record["rules"])
    assert json.dumps(record)
