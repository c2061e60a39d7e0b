"""What a printed note becomes when it is written out: pieces with values that can be printed."""

from itertools import pairwise

from hypothesis import given, reject
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.notate.pieces import Beats, Written, pieces_of, unit_of
from appui.realize.contract import Tone
from appui.score.model import Event, Note, Part
from appui.score.pitch import Pitch
from tests.written import bar, note, part, score

C, D = Pitch("C", 0, 5), Pitch("D", 0, 5)
HALF = Event(Fraction(0), Fraction(2), 0, (Note(C, C),), "half")
MUSIC = score(part(bar(note("C5", 8), note("D5", 8))))
PART: Part = MUSIC.parts[0]
#  where a half note is cut, in 48ths of a quarter
CUTS = st.lists(st.integers(1, 95), max_size=4, unique=True)


def written(cuts: list[int], *, beats: bool = False) -> list[Written]:
    """A half note played as notes that follow one another, cut at some places."""
    edges = [Fraction(0), *(Fraction(cut, 48) for cut in sorted(cuts)), Fraction(2)]
    tones = [
        Tone(start, end - start, (C, D)[number % 2], "turn", Fraction(0), HALF)
        for number, (start, end) in enumerate(pairwise(edges))
    ]
    try:
        return list(pieces_of(PART, HALF, tones, Fraction(1), Beats(MUSIC.bars[0]) if beats else None))
    except ValueError:
        # no values of print come near: the note stays as it is printed
        reject()


@given(CUTS, st.booleans())
def test_pieces_fill_the_printed_note(cuts: list[int], beats: bool) -> None:
    """Their lengths add up to it, and so do the values of each that is in no tuplet."""
    pieces = written(cuts, beats=beats)
    assert 2 == sum(piece.piece.length_q for piece in pieces)
    for piece in pieces:
        if piece.piece.tuplet is None:
            assert piece.piece.length_q == sum(value.look_q for value in piece.piece.values)


@given(CUTS)
def test_what_is_rounded_in_print_is_exact_in_playing(cuts: list[int]) -> None:
    """Onset and end as written, and how far the exact ones lie after them, give the tones again."""
    pieces = written(cuts)
    at_q = Fraction(0)
    for piece in pieces:
        (tone,) = piece.tones
        assert tone.onset_q == at_q + piece.early_q
        at_q += piece.piece.length_q
        assert tone.end_q == at_q + piece.late_q
        assert (True, True) == (piece.starts[0], piece.stops[0])


def test_a_note_held_while_others_change_is_tied() -> None:
    """C through the whole half note, D in its first half: C begins in the first piece and ends in the second."""
    tones = [Tone(Fraction(0), Fraction(2), C, "plain", Fraction(0), HALF)]
    tones.append(Tone(Fraction(0), Fraction(1), D, "plain", Fraction(0), HALF))
    first, second = pieces_of(PART, HALF, tones, Fraction(1), None)
    assert ((C, D), (True, True), (False, True)) == (first.pitches, first.starts, first.stops)
    assert ((C,), (False,), (True,)) == (second.pitches, second.starts, second.stops)


def test_a_quarter_in_a_triplet_is_two_thirds() -> None:
    """And a little off where a file has rounded its durations."""
    triplet = HALF._replace(duration_q=Fraction(2, 3), type_name="quarter", tuplet=Fraction(2, 3))
    assert Fraction(2, 3) == unit_of(triplet)
    assert 1 == unit_of(HALF)
    rounded = HALF._replace(duration_q=Fraction(199, 100))
    assert Fraction(199, 200) == unit_of(rounded)
