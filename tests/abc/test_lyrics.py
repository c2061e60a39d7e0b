"""Words under the notes, one syllable a note."""

import pytest

from appui.abc.items import Struck
from appui.abc.lyrics import put_lyrics
from appui.exact import Fraction
from appui.score.pitch import Pitch


def sung(words: str, tune: str = "cccc|cccc") -> list[str]:
    """The syllables of the notes of a tune, notes without any as a dash."""
    notes = [None if sign == "|" else Struck((Pitch("C", 0, 5),), Fraction(1), 1) for sign in tune]
    put_lyrics(words, notes)
    return [" ".join(note.lyrics) or "-" for note in notes if note is not None]


@pytest.mark.parametrize(
    ("words", "syllables"),
    [
        ("a soft song now", "a soft song now - - - -"),
        # hyphens part syllables, and are not sung
        ("gen-tle riv-er", "gen tle riv er - - - -"),
        # a star leaves a note out, a line holds the syllable before it
        ("a * b _ c", "a - b - c - - -"),
        # a bar line goes on to the next bar
        ("a | b", "a - - - b - - -"),
        # a syllable of two words
        ("so~it goes", "so it goes - - - - - -"),
        # more words than notes
        ("1 2 3 4 5 6 7 8 9 10", "1 2 3 4 5 6 7 8"),
    ],
)
def test_syllables_go_under_their_notes(words: str, syllables: str) -> None:
    """ABC standard 2.1, chapter 5 (memory)."""
    assert syllables == " ".join(sung(words))


def test_the_notes_that_got_one_are_given() -> None:
    """Figures under a bass are found so."""
    notes = [Struck((Pitch("C", 0, 3),), Fraction(1), 1) for _ in range(3)]
    assert [notes[0], notes[2]] == put_lyrics("6 * 4", notes)
