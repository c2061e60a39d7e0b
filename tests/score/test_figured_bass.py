"""Figures printed as text under a bass are read as figures; other text is not."""

import pytest

from tests.written import bar, direction, note, part, score


def lyric(*verses: str) -> str:
    """Lyrics of a note, a verse below the other."""
    return "".join(f'<lyric number="{n}"><text>{text}</text></lyric>' for n, text in enumerate(verses, 1))


def words(text: str) -> str:
    """Words printed under the staff."""
    return direction(f"<words>{text}</words>")


def read(*bars):
    """The figures of a bass part: onset, then number or sign of each."""
    return [
        (entry.onset_q, [(f.prefix + f.number + f.suffix) for f in entry.figures])
        for entry in score(part(*bars, name="Basso")).parts[0].figures
    ]


def test_lyrics_that_are_all_figures_are_figures() -> None:
    """Each verse is a row of the stack."""
    found = read(bar(note("C3", 8), note("D3", 8, lyric("6", "4")), note("E3", 8, lyric("#"))))
    assert [(2, ["6", "4"]), (4, ["sharp"])] == found


def test_a_stroke_a_line_break_and_digits_set_close_stack_figures() -> None:
    """Three ways in which editions set 6 over 5."""
    found = read(bar(*(note("C3", 4, lyric(text)) for text in ("6/5", "6\n5", "65"))))
    assert [["6", "5"]] * 3 == [figures for _, figures in found]


def test_figures_after_one_another_share_their_note() -> None:
    """``4 3`` and ``7-6`` change in the middle of the note."""
    found = read(bar(note("C3", 8, lyric("4 3")), note("D3", 8, lyric("7-6"))))
    assert [(0, ["4"]), (1, ["3"]), (2, ["7"]), (3, ["6"])] == found


def test_words_that_are_figures_are_figures_among_other_words() -> None:
    """What is no figure stays a word."""
    found = read(bar(words("Andante"), words("6"), note("C3", 8), words("♭7"), note("D3", 8), words("dolce")))
    assert [(0, ["6"]), (2, ["flat7"])] == found


@pytest.mark.parametrize(
    "texts",
    [("6", "love"), ("4", "3"), ("1", "6"), ("6",)],
    ids=["a song", "nothing that tells", "a verse number", "one alone"],
)
def test_lyrics_that_may_be_others_are_none(texts) -> None:
    """A text that is no figure, or none that only a figure can be: words of a song."""
    assert [] == read(bar(*(note("C3", 4, lyric(text)) for text in texts)))


@pytest.mark.parametrize("texts", [("1", "6", "7"), ("6", "7", "12"), ("3", "4")])
def test_numbers_that_count_are_no_figures(texts) -> None:
    """Rehearsal numbers and fingerings as words hold a 1, a number above 9, or no 6 or 7."""
    assert [] == read(*(bar(words(text), note("C3", 16)) for text in texts))


def test_figures_of_the_file_win_over_text() -> None:
    """Where the file has figures as figures, text is text."""
    figured = "<figured-bass><figure><figure-number>7</figure-number></figure></figured-bass>"
    found = read(bar(figured, note("C3", 8, lyric("6")), note("D3", 8, lyric("6"))))
    assert [["7"]] == [figures for _, figures in found]
