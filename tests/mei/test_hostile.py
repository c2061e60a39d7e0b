"""What is no MEI in common notation is refused in a sentence, with its place; nothing takes time or memory."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import ScoreError
from appui.mei.score import is_mei, mei_root, score_of_mei
from appui.score.model import Score
from tests.mei.mei_text import OBOE, measure, mei, note, read

WHOLE = note("c5", "1")
GOOD = mei(measure(WHOLE, beside='<slur startid="#a" endid="#b"/>'), measure(note("d5", "8", grace="acc") + WHOLE))

# what it is -> the text, words of the error
BAD: dict[str, tuple[str, str]] = {
    "no music": ("<mei><meiHead/></mei>", "holds no score"),
    "parts alone": ("<mei><music><body><mdiv><parts/></mdiv></body></music></mei>", "holds parts without a score"),
    "corpus": ("<meiCorpus/>", "is a collection of scores"),
    "another root": ("<html/>", "no MEI: its root is <html>"),
    "truncated": (GOOD[: len(GOOD) // 2], r"line \d+, column \d+: is broken XML"),
    "entities": ('<!DOCTYPE mei [<!ENTITY a "b">]><mei>&a;</mei>', "defines XML entities"),
    "mensural": (
        mei(measure(WHOLE), staves='<staffDef n="1" notationtype="mensural.white"/>'),
        "is in mensural notation",
    ),
    "tablature": (mei(measure(WHOLE), staves='<staffDef n="1" notationtype="tab.lute.french"/>'), "is in tab notation"),
    "no staves": (
        "<mei><music><body><mdiv><score><section>" + measure(WHOLE) + "</section></score></mdiv></body></music></mei>",
        "before any staff is defined",
    ),
    "no letter": (mei(measure('<note dur="1" oct="4"/>')), "a pitch has the letter ''"),
    "a letter that is none": (mei(measure('<note dur="1" oct="4" pname="h"/>')), "a pitch has the letter 'h'"),
    "an octave that is none": (mei(measure('<note dur="1" oct="40" pname="c"/>')), "oct is 40, outside"),
    "mensural value": (mei(measure('<note dur="semibrevis" oct="4" pname="c"/>')), "the value 'semibrevis'"),
    "no value": (mei(measure('<note oct="4" pname="c"/>')), "a note has no value"),
    "tuplet of nothing": (mei(measure(f'<tuplet num="0">{WHOLE}</tuplet>')), "num is 0, outside"),
    "meter of nothing": (mei(measure(WHOLE), definition='meter.count="0" meter.unit="4"'), "a meter of '0' beats"),
    "absurd tempo": (mei(measure(WHOLE, beside='<tempo tstamp="1" mm="99999"/>')), "a tempo of 99999 quarter notes"),
    "beat that is none": (
        mei(measure(WHOLE, beside='<dynam tstamp="soon">p</dynam>')),
        "tstamp is 'soon', not a number",
    ),
    "long bar": (mei(measure(note("c5", "maxima") * 400)), "a bar of more than 10,000 quarter notes"),
    "nested notes": (mei(measure("<beam>" * 60 + WHOLE + "</beam>" * 60)), "nested more than 40 deep"),
    "nested sections": (mei("<section>" * 60 + measure(WHOLE) + "</section>" * 60), "nested more than 40 deep"),
    "great chord": (mei(measure(f'<chord dur="1">{note("c5", "") * 200}</chord>')), "a chord of more than 128 notes"),
    "many bars of rest": (mei(measure('<multiRest num="100000"/>')), "num is 100000, outside"),
    "many parts": (mei(measure(WHOLE), staves="".join(f'<staffDef n="{n}"/>' for n in range(400))), "has 400 parts"),
}


@pytest.mark.parametrize("kind", BAD)
def test_refused_with_words(kind: str) -> None:
    """The file, what is wrong and what to do; where it can be named, the place."""
    text, words = BAD[kind]
    with pytest.raises(ScoreError, match=f"(?s)^page[.]mei(?=.*Remedy: ).*{words}"):
        read(text)


def test_the_place_is_part_bar_and_line() -> None:
    """So that it is found in an editor."""
    with pytest.raises(ScoreError, match=r"^page\.mei, part Oboe, bar 2, line 3: a pitch has the letter 'h'"):
        read(mei(measure(WHOLE), measure('<note dur="1" oct="4" pname="h"/>')))


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b'<?xml version="1.0"?><!-- <note> --><mei xmlns="x">', True),
        (b"<m:mei>", True),
        (b"<music>", True),
        (b"<score-partwise>", False),
        (b"<!-- never closed <mei>", False),
        (b"no XML", False),
        ("<?xml version='1.0' encoding='utf-16'?><mei>".encode("utf-16"), True),
    ],
)
def test_mei_is_known_by_its_root(data: bytes, expected: bool) -> None:
    """Whatever stands before it."""
    assert expected == is_mei(data)


def _read_or_refused(data: bytes) -> bool:
    try:
        return isinstance(score_of_mei(mei_root(data, "page.mei"), "page.mei"), Score)
    except ScoreError as error:
        return str(error).startswith("page.mei")


@given(kept=st.floats(0, 1))
def test_truncated_anywhere(kept: float) -> None:
    """A file cut off anywhere is read or refused."""
    data = GOOD.encode()
    assert _read_or_refused(data[: int(kept * len(data))])


@given(flips=st.lists(st.tuples(st.integers(0, 5_000), st.integers(1, 255)), min_size=1, max_size=6))
def test_bytes_flipped_anywhere(flips: list[tuple[int, int]]) -> None:
    """A file with flipped bytes is read or refused."""
    data = bytearray(GOOD.encode())
    for at, mask in flips:
        data[at % len(data)] ^= mask
    assert _read_or_refused(bytes(data))


ATTRIBUTES = (
    "pname oct dur dots accid accid.ges grace stem.mod dur.ppq tie slur fermata num numbase staff layer tstamp "
    "tstamp2 startid endid plist form place dis n left right metcon count unit sig mm mm.unit"
).split()
TAGS = (
    "note chord rest mRest multiRest space beam tuplet graceGrp bTrem fTrem mRpt keySig trill turn mordent fermata "
    "arpeg breath slur tie dynam hairpin tempo dir harm octave tupletSpan accid artic verse"
).split()
VALUES = st.sampled_from(
    [
        "",
        "1",
        "4",
        "-1",
        "0",
        "99",
        "c",
        "h",
        "s",
        "x",
        "i",
        "#a",
        "#b #a",
        "0m+2",
        "9m+9",
        "1.3333",
        "unacc",
        "rptend",
        "above",
    ]
)


@st.composite
def _element(draw: st.DrawFn, depth: int = 0) -> str:
    tag = draw(st.sampled_from(TAGS))
    said = draw(st.dictionaries(st.sampled_from(ATTRIBUTES), VALUES, max_size=5))
    inside = "".join(draw(st.lists(_element(depth + 1), max_size=2))) if depth < 3 else ""
    return (
        f'<{tag} xml:id="{draw(st.sampled_from("ab"))}{draw(st.integers(0, 10**9))}" '
        + " ".join(f'{k}="{v}"' for k, v in said.items())
        + f">{inside}</{tag}>"
    )


@given(layer=st.lists(_element(), max_size=4), beside=st.lists(_element(), max_size=3))
def test_any_elements_in_any_order(layer: list[str], beside: list[str]) -> None:
    """Nonsense in a lawful tree is read or refused, never another error."""
    assert _read_or_refused(mei(measure("".join(layer), beside="".join(beside)), measure(WHOLE), staves=OBOE).encode())
