"""Slips of the typing: refused at line and column, with the sign that was meant; hostile text is refused, too."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.abc.score import is_abc
from appui.errors import ScoreError
from appui.score.model import Score
from tests.abc.abc_text import HEAD, music, piece

#  music (line 6 of the file) -> column, what is wrong, the remedy
SLIPS: dict[str, tuple[int, str, str]] = {
    "c d h e": (5, "'h' means nothing here", "German H is B, German B is _B"),
    "c #f": (3, "'#' means nothing here", r"\^f is F sharp"),
    "c ♭b": (3, "'♭' means nothing here", "_b is B flat"),
    "c2 4d": (4, "'4' means nothing here", "a length stands after its note"),
    "|4d": (2, "'4' is no ending", "a length stands after its note"),
    "c r2": (3, "'r' means nothing here", "a rest is z"),
    "c tr": (3, "'t' means nothing here", "a trill is T"),
    "c pd": (3, "'p' means nothing here", "write it as !p!"),
    "c }d": (3, "'}' means nothing here", "{ has not opened"),
    "c {d": (3, "small notes opened by { are not closed", "write }"),
    "c {} d": (3, "{} holds no small note", "write its letter"),
    "c {d4x}e": (6, "'x' means nothing among small notes", "letters between { and }"),
    "c [ceg": (3, r"a chord opened by \[ is not closed", "write ]"),
    "c [c?]": (5, r"'\?' means nothing in a chord", r"\[CEG\]2"),
    "c [] d": (3, "a chord of no notes", r"\[CEG\]"),
    'c "G7 d': (3, "a text opened by a quote is not closed", 'write a quote after it too: "G7"'),
    "c !trill d": (3, "a decoration opened by ! is not closed", "!trill!"),
    "c !tril!d": (3, "there is no decoration !tril!", "write !trill!"),
    "c “G”d": (3, "'“' means nothing here", 'plain quotes: "G7"'),
    "c –c": (3, "'–' means nothing here", "a plain hyphen"),
    "c2 'd": (4, '"\'" means nothing here', "right after the letter"),
    "c ^ d": (3, r"'\^' means nothing here", r"stands before a letter: \^f"),
    "> c": (1, "'>' means nothing here", "between two notes"),
    "- c": (1, "'-' means nothing here", "a tie stands after its note"),
    "c0": (1, "a length of 0", "write 1 or more"),
    "c99999": (1, "a length of more digits", "correct it"),
    "c/0": (1, "a length of 0", "write 1 or more"),
    "c'''''''": (1, "is beyond any instrument", "octave"),
    "(0abc": (1, r"'\(0' is no tuplet", r"\(3abc"),
    "Tc T|": (5, "an ornament stands before a barline", "before its note"),
    "Z99999": (1, "is no number of bars", "Z4 for four bars"),
    "[K:H] c": (4, "K:H is no key", "K:Gm"),
    "[K:Gmoll] c": (4, "K:Gmoll: 'moll' is no mode", "write K:Gm"),
    "[M:3-4] c": (4, "M:3-4 is no meter", "M:3/4"),
    "[L:8] c": (4, "L:8 is no note length", "L:1/8"),
    "[Q:fast] c": (4, "Q:fast is no tempo", "Q:1/4=60"),
}


@pytest.mark.parametrize("text", SLIPS)
def test_a_slip_is_named_with_its_place_and_what_was_meant(text: str) -> None:
    """Line, column, the sign, the remedy."""
    column, problem, remedy = SLIPS[text]
    with pytest.raises(ScoreError) as refused:
        music(text)
    assert re.match(rf"page\.abc, line 6, column {column}: .*{problem}.* Remedy: .*{remedy}", str(refused.value)), (
        refused.value
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("X:1\nT:No key\nM:3/4\nabc\n", "line 4, column 1: music stands before the line K:"),
        ("X:1\nT:Nothing\n", "has no line K:"),
        ("X:1\nK:C\n", "holds no notes"),
        ("X:1\nK:C\nc\nX:2\nK:C\nd\n", "holds 2 pieces"),
        ("X:1\nM:3\nK:C\nc\n", "line 2, column 3: M:3 is no meter"),
        ("X:1\nU: nothing\nK:C\nc\n", "U:nothing gives no letter a meaning"),
        ("X:1\nK:C\nV:\nc\n", "V: names no voice"),
        ("X:1\nK:C transpose=up\nc\n", "transpose=up is no whole number"),
        ("X:1\nQ:1/4=5000\nK:C\nc\n", "a tempo of 5000 quarter notes"),
        ("X:1\nK:C\n" + "".join(f"V:{n}\nc\n" for n in range(301)), "has 301 parts"),
        ("X:1\nK:C\n" + "(" * 200 + "c\n", "more than 100 slurs open at once"),
        ("X:1\nK:C\n[" + "c" * 200 + "]\n", "a chord of no notes, or of more than there are keys"),
        ("X:1\nL:1/1\nK:C\n" + "c9999 " * 4 + "\n", "a note longer than any bar"),
        ("X:1\nL:1/1\nK:C\n" + "c1000 " * 4 + "\n", "a bar of more than 10,000 quarter notes"),
    ],
)
def test_what_is_no_piece_is_refused(text: str, words: str) -> None:
    """In a sentence with a remedy."""
    with pytest.raises(ScoreError, match=f"^page[.]abc(?=.*Remedy: ).*{re.escape(words)}"):
        piece(text)


def test_a_stray_end_of_a_slur_is_said() -> None:
    """It costs nobody the piece."""
    found = music("c) d")
    assert any("a slur ends that never began" in notice.text and "column 2" in notice.place for notice in found.notices)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"X:1\nK:C\n", True),
        (b"%abc-2.1\nX:1\n", True),
        (b"\xef\xbb\xbfX: 3\n", True),
        (b"% a remark\n\nX:1\n", True),
        (b"**kern\n", False),
        (b"<mei>", False),
        (b"Dear oboist,", False),
    ],
)
def test_abc_is_known_by_its_start(data: bytes, expected: bool) -> None:
    """Whatever the file is called."""
    assert expected == is_abc(data)


def _read_or_refused(text: str) -> bool:
    try:
        return isinstance(piece(text), Score)
    except ScoreError as error:
        return str(error).startswith("page.abc")


@given(st.text(alphabet="abcdefgABCDEFGzxZ^_=,'/23456 ()[]{}<>|:-.~HLMOPSTuv!+\"&yw%\\*KMLVQX\n", max_size=120))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Never another error, whatever is typed."""
    assert _read_or_refused(HEAD.format("C") + text)


@given(st.text(max_size=200))
def test_any_file_is_read_or_refused(text: str) -> None:
    """From its first letter on."""
    assert _read_or_refused(text)


@given(
    st.lists(
        st.sampled_from(
            "X:1 T:x M:3/4 M:C| M:none L:1/8 Q:60 K:C K:Gm V:1 V:2 w:a-b U:n=!trill! cde |: :| {c}d".split()
        ),
        max_size=20,
    )
)
def test_any_lines_in_any_order(lines: list[str]) -> None:
    """Fields and music in any order are read or refused."""
    assert _read_or_refused("\n".join(lines))
