"""Whose part is the solo: families by name."""

import pytest

from appui.score.signs import find_signs
from appui.score.solo import family_of, guess
from tests.written import bar, grace, note, part, score


@pytest.mark.parametrize(
    ("name", "family"),
    [
        ("Flute", "wind"),
        ("Lute", "keyboard"),
        ("Theorbo or Lute", "keyboard"),
        ("Basso", "voice"),
        ("Violin", "strings"),
    ],
)
def test_a_flute_is_no_lute(name, family) -> None:
    """A name within another does not tell the family."""
    assert family == family_of(score(part(bar(note("C5", 16)), name=name)).parts[0])


_WIND = "the parts for a wind instrument or voice"


def _guess(**signs):
    parts = [
        part(*[bar(*[grace("D5")] * (n < many), note("C5", 16)) for n in range(5)], name=name.replace("_", " "))
        for name, many in signs.items()
    ]
    music = score(*parts)
    return guess(music, find_signs(music))


@pytest.mark.parametrize(
    ("signs", "words"),
    [
        ({"Violin_I": 1, "Violin_II": 4, "Viola": 0}, "Violin I, the first of its instrument; else Violin II"),
        ({"Violin_primo": 0, "Violin_secondo": 4}, "Violin primo, the first of its instrument; else Violin secondo"),
        ({"Violin": 3, "Oboe": 0}, "Oboe, the only wind instrument or voice; else Violin"),
        ({"Oboe": 1, "Bassoon": 3}, f"Bassoon, of {_WIND} the one with most ornaments (3); else Oboe"),
        ({"Violin_1": 0, "Viola": 0}, "Violin 1, the first part for a string instrument; else Viola"),
        ({"Oboe": 1}, "Oboe, the only part that plays"),
    ],
)  # fmt: skip
def test_the_guess_names_its_reason_and_the_next(signs, words) -> None:
    """A second violin is no solo, however many signs it has."""
    assert words == _guess(**signs).words
