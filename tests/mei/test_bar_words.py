"""What one bar of MEI says of itself."""

import pytest
from lxml import etree

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.mei.bars import bars_of_rest, next_number, passes_in, tuplets_in
from appui.mei.definitions import altered_by, beats_in, key_accidentals, name_in
from appui.musicxml.read.numbers import Where

WHERE = Where("page.mei")


def node(text: str) -> etree._Element:
    """An element, as in a file."""
    return etree.fromstring(text)


@pytest.mark.parametrize(
    ("text", "passes"),
    [("1", (1,)), ("1, 2", (1, 2)), ("1-3", (1, 2, 3)), ("2\u20134", (2, 3, 4)), ("last time", (1,)), ("0", (1,))],
)
def test_the_passes_of_an_ending(text: str, passes: tuple[int, ...]) -> None:
    """Lists and ranges; words that say none are the first."""
    assert passes == passes_in(text)


@pytest.mark.parametrize(("number", "following"), [("12", "13"), ("12a", "13"), ("", "1"), ("X", "1")])
def test_a_bar_without_a_number_has_the_next(number: str, following: str) -> None:
    """Letters after a number are dropped."""
    assert following == next_number(number)


def test_bars_of_rest_are_counted() -> None:
    """One where none is said; too many are refused."""
    assert 1 == bars_of_rest(node("<measure/>"), WHERE)
    assert 7 == bars_of_rest(node("<measure><multiRest num='7'/></measure>"), WHERE)
    with pytest.raises(ScoreError, match="num"):
        bars_of_rest(node("<measure><multiRest num='100000'/></measure>"), WHERE)


def test_tuplets_may_be_marked_from_note_to_note() -> None:
    """By their ends, or a list of the notes."""
    spans = "<tupletSpan startid='#a' endid='#c'/><tupletSpan num='5' numbase='4' plist='#d #e #f'/>"
    assert {"a": (Fraction(2, 3), "c"), "d": (Fraction(4, 5), "f")} == tuplets_in(node(f"<m>{spans}</m>"), WHERE)


@pytest.mark.parametrize(
    ("fifths", "letters"),
    [(0, {}), (2, {"F": 1, "C": 1}), (-1, {"B": -1}), (8, {**dict.fromkeys("CGDAEB", 1), "F": 2})],
)
def test_a_key_alters_its_letters(fifths: int, letters: dict[str, int]) -> None:
    """In the order of fifths; the eighth sharp is a double one."""
    assert letters == altered_by(fifths)


def test_a_mixed_signature_names_its_letters() -> None:
    """What is no letter is passed over."""
    signature = "<keySig><keyAccid pname='b' accid='f'/><keyAccid pname='f' accid='s'/><keyAccid pname='z'/></keySig>"
    assert {"B": -1, "F": 1} == dict(key_accidentals(node(signature)))


def test_sums_of_beats_are_added_up() -> None:
    """3+2 is five; a meter of nothing is refused."""
    assert 5 == beats_in("3+2", 4, WHERE, node("<meterSig/>"))
    assert 4 == beats_in(None, 4, WHERE, node("<meterSig/>"))
    with pytest.raises(ScoreError, match="beats"):
        beats_in("0", 4, WHERE, node("<meterSig/>"))


def test_a_part_goes_by_its_label() -> None:
    """Else by the short one, else by the attribute."""
    assert "Oboe" == name_in(node("<staffDef label='x'><label>Oboe</label></staffDef>"))
    assert "Ob." == name_in(node("<staffDef><label/><labelAbbr>Ob.</labelAbbr></staffDef>"))
    assert "Oboe da caccia" == name_in(node("<staffDef label='Oboe  da caccia'/>"))
    assert "" == name_in(None)
