"""Invented phrases: what they are said to be is what they are."""

import random

import pytest

from appui.drill.invent import ROWS, TRILLS, Row, invent
from appui.exact import Fraction
from appui.harmony.kinds import parse_symbol, symbol_places
from appui.harmony.spelling import letter_of
from appui.score.pitch import parse_pitch


def letters(chord: str) -> set[str]:
    """The letters of a chord symbol."""
    symbol = parse_symbol(chord, Fraction(0))
    assert symbol is not None
    return {letter_of(place) for place in symbol_places(symbol)}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.small} {row.main} {row.chord}")
def test_a_small_note_belongs_where_the_row_says_so(row: Row) -> None:
    """By the letters of the chord symbol."""
    assert row.member == (parse_pitch(row.small).letter in letters(row.chord))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.small} {row.main} {row.chord}")
def test_what_leans_resolves_into_the_chord(row: Row) -> None:
    """Down by step to a note of it."""
    if not row.member:
        assert parse_pitch(row.main).letter in letters(row.chord)
        assert 1 == parse_pitch(row.small).diatonic - parse_pitch(row.main).diatonic


def test_the_melody_alone_tells_nothing() -> None:
    """In each mode every pair of small note and main note stands over chords of both kinds."""
    for minor in (False, True):
        pairs = {(row.small, row.main, row.member) for row in ROWS if row.minor is minor}
        assert {(small, main, not member) for small, main, member in pairs} == pairs


@pytest.mark.parametrize("member", [True, False])
def test_what_is_asked_for_is_made(member: bool) -> None:
    """Twenty of each kind; the pickup never gives the main note away."""
    for seed in range(20):
        phrase = invent(random.Random(seed), member=member)  # noqa: S311 - phrases, no secret
        first, *_ = phrase.signs
        main = first.main_note(phrase.score)
        assert main is not None
        pickup = phrase.score.parts[0].voices[0].events[2].notes[0]
        assert member is phrase.member
        assert pickup.sounding.diatonic != main.sounding.diatonic


def test_a_trill_has_no_small_note() -> None:
    """Nothing is asked of its chord."""
    phrase = invent(random.Random(1), trill=True)  # noqa: S311 - a phrase, no secret
    assert ("trill", None) == (phrase.sign.kind, phrase.member)
    assert len(TRILLS) > 4
