"""Holds at fermatas: all parts wait, once."""

from appui.exact import Fraction
from appui.interpret.holds import Hold, held_tempos, holds_of
from appui.score.model import Score, TempoMark
from appui.score.signs import find_signs
from appui.style.reading import Reading
from tests.written import bar, note, part, score

FERMATA = "<notations><fermata/></notations>"
TWICE = Reading("hold").with_sizes(times=Fraction(2))
THRICE = Reading("hold").with_sizes(times=Fraction(3))


def two_parts() -> Score:
    """A half note with a fermata in each of two parts, the second of which begins a quarter later."""
    upper = part(bar(note("C5", 8), note("D5", 8, FERMATA)))
    lower = part(bar(note("C3", 12), note("G3", 4, FERMATA)), name="Bass")
    return score(upper, lower)


def held(music: Score, *readings: Reading, decided: tuple[str, ...] = ()) -> tuple[Hold, ...]:
    """The holds of a score, its signs read so in their order."""
    signs = find_signs(music)
    found = {sign.place: reading for sign, reading in zip(signs, readings, strict=True)}
    return holds_of(music, signs, found, decided)


def test_a_hold_begins_with_the_last_thing_under_it() -> None:
    """The upper part waits for the lower; both are one hold, the longer of the two."""
    assert (Hold(Fraction(3), Fraction(4), Fraction(3)),) == held(two_parts(), TWICE, THRICE)


def test_what_the_player_has_decided_goes_before_the_longer_one() -> None:
    """Twice as long, since that was asked for."""
    music = two_parts()
    first = find_signs(music)[0].place
    assert (Fraction(2),) == tuple(hold.times for hold in held(music, TWICE, THRICE, decided=(first,)))


def test_a_fermata_that_is_played_on_is_no_hold() -> None:
    """Once its length is its length."""
    assert () == held(two_parts(), Reading("plain"), Reading("plain"))


def test_the_tempo_stands_at_a_fraction_and_is_taken_up_again() -> None:
    """From its start to its end; a change of tempo in it is slower too."""
    tempos = (TempoMark(Fraction(0), Fraction(60), "sound"), TempoMark(Fraction(3), Fraction(90), "sound"))
    marks = held_tempos(tempos, [Hold(Fraction(2), Fraction(4), Fraction(3))])
    assert [0, 2, 3, 4] == [mark.onset_q for mark in marks]
    assert [60, 20, 30, 90] == [mark.qpm for mark in marks]
