"""The picture of levels and tempo: what it shows is what is played."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lxml import etree

from appui.demo import demo_score
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.levels import db_of
from appui.perform.picture import LEFT, RIGHT, WIDTH, picture
from appui.perform.play import play

NAMES = {"s": "http://www.w3.org/2000/svg"}


@pytest.fixture(scope="module")
def made():
    """The demo as shaped."""
    demo = interpret(demo_score(), Wishes(shape="shaped", time="shaped"))
    return play(demo, demo.order(None, repeats=False))


def drawn(performance):
    """The picture, parsed."""
    return etree.fromstring(picture(performance))


def test_every_bar_has_its_number(made) -> None:
    """Once each, in order."""
    words = [node.text for node in drawn(made).iterfind("s:text", NAMES) if node.get("text-anchor") == "start"]
    assert [mark.text for mark in made.marks if mark.kind == "bar"] == words[1:]


def test_every_note_of_the_solo_stands_at_its_moment(made) -> None:
    """As many dark bars as notes, the first at the left edge, none beyond the right."""
    solo = next(part for part in made.parts if part.solo)
    bars = [node for node in drawn(made).iterfind("s:rect", NAMES) if node.get("fill") == "#8c1c13"]
    assert len(solo.notes) == len(bars)
    assert all(LEFT - 0.1 <= float(bar.get("x")) <= WIDTH - RIGHT for bar in bars)


def test_louder_stands_higher(made) -> None:
    """The dots of the solo in the first row, against the levels of its notes there."""
    solo = next(part for part in made.parts if part.solo)
    dots = [node for node in drawn(made).iterfind("s:circle", NAMES) if node.get("fill") == "#8c1c13"][:30]
    levels = [db_of(note.velocity) for note in solo.notes[:30]]
    heights = [float(dot.get("cy")) for dot in dots]
    for (one, level), (other, lower) in zip(
        zip(heights, levels, strict=True), list(zip(heights, levels, strict=True))[1:], strict=False
    ):
        assert (one < other) == (level > lower) or one == pytest.approx(other, abs=0.11)


def test_nothing_played_is_a_white_picture(made) -> None:
    """No parts, no bars: a picture still."""
    assert 0 == len(drawn(replace(made, parts=(), marks=())).findall("s:circle", NAMES))


def test_a_title_may_hold_anything(made) -> None:
    """What XML would take for a tag is text."""
    assert "<b> & co" in "".join(drawn(replace(made, title="<b> & co")).itertext())


def test_the_same_is_drawn_the_same(made) -> None:
    """Byte for byte."""
    assert picture(made) == picture(made)
