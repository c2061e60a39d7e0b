"""Places judged by hand, from scores in the music21 corpus: `tests/data/harmony_places.toml`."""

import tomllib
from pathlib import Path

import music21
import pytest

from appui.harmony.analyse import analyse
from appui.harmony.model import DISSONANCE, MEMBER
from appui.harmony.verdicts import verdict_of
from appui.musicxml.read.score import read_score
from appui.score.signs import find_signs

CORPUS = Path(music21.__file__).parent / "corpus"
PLACES = tomllib.loads((Path(__file__).parents[1] / "data" / "harmony_places.toml").read_text(encoding="utf-8"))[
    "place"
]
WORDS = {MEMBER: "in", DISSONANCE: "out"}


@pytest.fixture(scope="module")
def judged():
    """For every place: the place as labelled, its sign and the verdict."""
    found = []
    for file in dict.fromkeys(place["file"] for place in PLACES):
        score = read_score(CORPUS / file)
        harmony, signs = analyse(score), {sign.place: sign for sign in find_signs(score)}
        for place in PLACES:
            if place["file"] == file:
                sign = signs[place["name"]]
                found.append((place, sign, verdict_of(harmony, sign)))
    return found


def answers(judged):
    """For every small note one would not argue about: whether the verdict is the label, and its confidence."""
    for place, _, verdict in judged:
        for wanted, member, chance in zip(place["members"], verdict.members, verdict.member_chances, strict=True):
            if wanted != "?":
                yield wanted == WORDS.get(member), max(chance, 1 - chance)


def test_the_places_are_where_the_labels_say(judged) -> None:
    """Every place name finds the small notes that were labelled; there are at least sixty places."""
    assert len(judged) == len(PLACES) >= 60
    assert [place["small"] for place, _, _ in judged] == [
        [small.sounding[0].name for small in sign.small] for _, sign, _ in judged
    ]


def test_most_verdicts_agree_with_the_hand(judged) -> None:
    """At least nine in ten small notes (.937 when this was written)."""
    right = [one for one, _ in answers(judged)]
    assert sum(right) / len(right) >= 0.92


def test_sure_verdicts_agree_more_often(judged) -> None:
    """Of what is said with a confidence of .8 and more at least 95 in a hundred agree, and most is said so surely."""
    sure = [one for one, confidence in answers(judged) if confidence >= 0.8]
    assert sum(sure) / len(sure) >= 0.95
    assert len(sure) / len(list(answers(judged))) >= 0.85
