"""What is ranked before what: taste, term by term, on drafts that differ in one thing."""

import pytest

from appui.embellish.choose import propose
from appui.embellish.judge import judged
from appui.embellish.model import Draft, Figure, Wish
from appui.embellish.places import find_places
from appui.exact import Fraction
from appui.plan.free_notes import notes_text
from tests.embellish.pieces import interpretation
from tests.embellish.test_rules import CADENZA, SIX_FOUR_BASS, Where, case, notes

TRILL = "D5:1:arrival:tr"


def term(name: str, where: Where, text: str, in_time: str = "", figure: Figure | None = None) -> float:
    """One term of a draft's score."""
    draft = Draft(notes(text), notes(in_time) if in_time else (), figure=figure)
    return judged(case(**where), draft)[1][name]


@pytest.mark.parametrize(
    ("name", "where", "better", "worse", "in_time"),
    [
        # a scale up and the same scale down again is an exercise (common practice, no source)
        (
            "no exercise",
            CADENZA,
            "G5:1/2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/16 F5:1/16 E5:1/8",
            "G5:1/2 A5:1/8 B5:1/8 C6:1/4:peak B5:1/8 A5:1/8 G5:1/16 F5:1/16 E5:1/8",
            TRILL,
        ),
        # one value throughout (Türk 1789, V §13, memory: no steady metre)
        (
            "no exercise",
            CADENZA,
            "G5:1/2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/16 F5:1/16 E5:1/16 D5:1/16 E5:1/8",
            "G5:1/2 C6:1/8:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8 D5:1/8 E5:1/8",
            TRILL,
        ),
        # the leading note reached from below (common practice, no source)
        ("close", CADENZA, "G5:1/2 E5:1/8 C5:1/8", "G5:1/2 C5:1/8 A4:1/8", "B4:1:arrival:tr"),
        # the second rather than the leading note (common practice, no source)
        ("close", CADENZA, "G5:1/2 E5:1/8 D5:1:arrival:tr", "G5:1/2 C5:1/8 B4:1:arrival:tr", ""),
    ],
)
def test_what_is_ranked_before(name, where, better, worse, in_time):
    """Each term prefers what a player would play."""
    assert term(name, where, better, in_time) > term(name, where, worse, in_time)


Q = Fraction
NEAR = Figure((39, 37, 41, 39), (Q(1, 2), Q(1, 2)) * 2, 2, 1.0, 1.0, "made up")


@pytest.mark.parametrize(
    "other",
    [
        None,
        NEAR._replace(likeness=0.5),
        NEAR._replace(weight=0.3),
        NEAR._replace(letters=(39, 37, 42, 40)),
        NEAR._replace(times=1),
    ],
)
def test_the_chief_figure_twice_and_near_is_best(other):
    """None, a changed one, a lesser one, one a fourth away and one that is not answered are ranked below it."""
    text = "G5:1/2 E5:1/8 B5:1/8 G5:1/8 E5:1/8"
    assert term("the piece's own", CADENZA, text, TRILL, NEAR) > term("the piece's own", CADENZA, text, TRILL, other)


def test_the_first_proposal_says_the_figure_and_the_others_are_of_several_kinds():
    """Of four, one at least has none of the piece's figure, and no two of them are of one plan."""
    solo = "C5e. E5s D5h. | D5e. F5s E5h. | G5w^ | D5w | C5w"
    made = interpretation(solo, "C3+E4+G4w | F3+A3+D4w | " + " | ".join(SIX_FOUR_BASS.split(" | ")[1:]))
    wish = Wish(kinds=("cadenza",), count=4)
    found = propose(made, find_places(made, wish)[0][0], wish).proposals
    assert "the figure of bar 1" in found[0].words
    assert any("figure" not in proposal.words for proposal in found), [notes_text(each.line) for each in found]
    assert 4 == len({proposal.words.split(":")[0] for proposal in found})
