"""Lengths as note values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction, fraction_of
from appui.notate.values import Tuplet, divide, values_of


def look(pieces) -> list[str]:
    """Each piece as ``quarter.+16th`` and its tuplet."""
    return [
        "+".join(value.type + "." * value.dots for value in piece.values)
        + (f" {piece.tuplet.actual}:{piece.tuplet.normal}" if piece.tuplet else "")
        for piece in pieces
    ]


def fractions(text: str) -> list[Fraction]:
    """Fractions from words."""
    return [fraction_of(word) for word in text.split()]


@pytest.mark.parametrize(
    ("lengths", "expected"),
    [
        # halves, dotted notes and what must be tied
        ("1/2 1/2", ["eighth", "eighth"]),
        ("1 1/2", ["quarter", "eighth"]),
        ("5/4 3/4", ["quarter+16th", "eighth."]),
        # two thirds of a note in two parts: a triplet
        ("2/3 1/3", ["quarter 3:2", "eighth 3:2"]),
        ("1/6 1/6 2/3", ["16th 6:4", "16th 6:4", "quarter 6:4"]),
        ("1/5 1/5 1/5 1/5 1/5", ["16th 5:4"] * 5),
        # from milliseconds: the short ones are the nearest plain value, the longest takes the rest
        ("221/240 19/240", ["eighth..", "32nd"]),
        ("17/20 3/40 3/40", ["eighth.", "32nd", "32nd"]),
        ("1/10 1/10 1/10 1/10 6/10", ["32nd", "32nd", "32nd", "32nd", "eighth"]),
        # a trill with its termination: 28 notes have the room of 28 plain ones
        (" ".join(["37/560"] * 28 + ["3/40"] * 2), ["64th"] * 28 + ["32nd"] * 2),
        # a trill that comes out uneven is one tuplet
        (" ".join(["2/15"] * 15), ["16th 15:8"] * 15),
    ],
)
def test_how_a_slot_is_divided(lengths, expected) -> None:
    """Common practice of writing out, no source; the sizes of leaning notes are those of the manuals."""
    assert expected == look(divide(fractions(lengths)))


@given(st.lists(st.fractions(Fraction(1, 60), 2, max_denominator=720), min_size=1, max_size=24), st.integers(0, 3))
def test_pieces_fill_the_slot(raw, power) -> None:
    """Whatever the lengths: as many pieces, none empty, adding up exactly, each as long as its values say."""
    whole = Fraction(2) ** power
    scale = whole / sum(raw)
    pieces = divide([length * scale for length in raw])
    assert len(raw) == len(pieces)
    assert whole == sum(piece.length_q for piece in pieces)
    for piece in pieces:
        ratio = Fraction(piece.tuplet.normal, piece.tuplet.actual) if piece.tuplet else 1
        assert piece.length_q == sum(value.look_q for value in piece.values) * ratio > 0


@given(st.integers(1, 2048))
def test_values_add_up(count) -> None:
    """Any whole number of the shortest values is some row of values, tied."""
    length = Fraction(count, 256)
    assert length == sum(value.look_q for value in values_of(length))


def test_what_has_no_value_is_said() -> None:
    """A third of a quarter outside a tuplet cannot be printed."""
    with pytest.raises(ValueError, match="no note values add up to 1/3"):
        values_of(Fraction(1, 3))
    with pytest.raises(ValueError, match="no length to print"):
        divide([Fraction(1, 3)])


def test_a_tuplet_names_the_value_it_fills() -> None:
    """Three in the time of two, twelve in the time of eight."""
    assert {Tuplet(3, 2)} == {piece.tuplet for piece in divide(fractions("1/3 1/3 1/3"))}
    assert {Tuplet(12, 8)} == {piece.tuplet for piece in divide([Fraction(1, 12)] * 12)}
