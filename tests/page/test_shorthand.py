"""Ways of playing in shorthand: what a musician would pencil in, with what is changed marked."""

import re
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from appui.interpret.interpretation import Interpretation
from appui.page.staves import PRINTED, Staves, written_staves

WAYS = {
    "oboe.4.1": ["leaning 1/2", "before", "short"],
    "oboe.3.1+2/3": ["short", "before"],
    "oboe.7.2": ["trill from above without termination", "trill from the main note without termination"],
    "oboe.7.2.2": ["after"],
    "oboe.22.2": [
        "trill from above with termination",
        "trill from the main note with termination",
        "trill from above half",
    ],
}
TRILL, SHAKE = "oboe.7.2", "oboe.22.2"


@pytest.fixture(scope="module", name="staves")
def _staves(interpretation: Interpretation, demo: Path) -> Staves:
    """Some ways of playing some signs of the demo."""
    return written_staves(interpretation, demo, WAYS, lambda words: None)


def changed(picture: str) -> list[Any]:
    """The notes of a picture that are marked as changed."""
    root = etree.fromstring(picture.encode())
    return [node for node in root.iter("{*}g") if "changed" in (node.get("class") or "").split()]


def small(picture: str) -> int:
    """How many small noteheads a picture has."""
    return len(re.findall(r'E0A4" transform="[^"]*scale\(0\.54', picture))


def test_a_short_note_is_a_small_one_with_a_stroke(staves: Staves) -> None:
    """One flag and one line through it; the main note stays whole."""
    picture = staves.short["oboe.4.1", "short"]
    (note,) = changed(picture)
    assert 1 == len([node for node in note.iter("{*}g") if node.get("class") == "stem"])
    assert small(picture) == small(staves.pictures["oboe.4.1", PRINTED])
    assert small(picture) > small(staves.pictures["oboe.4.1", "short"])


def test_a_note_before_the_beat_stands_before_the_barline(staves: Staves) -> None:
    """In the bar before, where the beat is a bar's first; within a bar it is written out."""
    picture = staves.short["oboe.4.1", "before"]
    assert 1 == len(changed(picture))
    bars = [node for node in etree.fromstring(picture.encode()).iter("{*}g") if node.get("class") == "measure"]
    assert [True, False] == [any(node.get("class") == "changed note" for node in bar.iter("{*}g")) for bar in bars]
    assert small(picture) == small(staves.pictures["oboe.4.1", PRINTED])
    assert ("oboe.3.1+2/3", "before") not in staves.short


def test_a_leaning_note_is_written_out(staves: Staves) -> None:
    """Two notes in place of one, both marked."""
    assert ("oboe.4.1", "leaning 1/2") not in staves.short
    assert 2 == len(changed(staves.pictures["oboe.4.1", "leaning 1/2"]))


@pytest.mark.parametrize(
    ("place", "words", "more"),
    [
        (TRILL, "trill from above without termination", 1),
        (TRILL, "trill from the main note without termination", 0),
        (SHAKE, "trill from above with termination", 3),
        (SHAKE, "trill from the main note with termination", 2),
    ],
)
def test_a_trill_is_its_sign_with_first_note_and_ending(staves: Staves, place: str, words: str, more: int) -> None:
    """Small notes for the upper note it begins with and for the two that end it; the exact notes are many."""
    picture = staves.short[place, words]
    assert more == len(changed(picture)) == small(picture) - small(staves.pictures[place, PRINTED])
    assert 8 < len(changed(staves.pictures[place, words]))


def test_after_notes_stay_as_printed(staves: Staves) -> None:
    """Nothing is changed, whatever the trill before them is written out to."""
    picture = staves.short["oboe.7.2.2", "after"]
    assert [] == changed(picture)
    assert small(picture) == small(staves.pictures["oboe.7.2.2", PRINTED])


def test_half_a_trill_is_written_out(staves: Staves) -> None:
    """Four quick notes are read at sight."""
    assert ("oboe.22.2", "trill from above half") not in staves.short


def test_what_is_as_printed_is_not_marked(staves: Staves) -> None:
    """Nor is a name left in any picture: many of them stand on one page."""
    for (_, words), picture in [*staves.pictures.items(), *staves.short.items()]:
        assert "changed-" not in picture
        if words == PRINTED:
            assert [] == changed(picture)
