"""Whose part is the solo: families by name."""

import pytest
from written import bar, note, part, score

from appui.score.solo import family_of


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
