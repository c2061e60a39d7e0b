"""How long a note is held, and tied notes joined."""

import pytest

from appui.exact import Fraction
from appui.perform.touch import HELD, held_share, is_slurred_on, join_ties
from appui.realize.contract import Tone
from appui.score.model import Event
from appui.score.pitch import parse_pitch
from appui.score.words import Role

Q = Fraction


def tone(
    at: int = 0, *, role: Role = "plain", event: Event | None = None, tied_on: bool = False, tied_back: bool = False
) -> Tone:
    """A tone on C, struck from a quarter note."""
    made = event or Event(Q(at), Q(1), 0)
    return Tone(Q(at), Q(1), parse_pitch("C5"), role, Q(at), made, tied_on=tied_on, tied_back=tied_back)


@pytest.mark.parametrize(("name", "share"), HELD.items())
def test_what_is_printed_says_how_long_a_note_is_held(name: str, share: float) -> None:
    """C.P.E. Bach 1753, ch. 3 §17 (read): detached notes somewhat less than half."""
    assert share == held_share(tone(event=Event(Q(0), Q(1), 0, articulations=frozenset({name}))))


def test_a_note_without_a_mark_has_its_length() -> None:
    """An accent is none of how long."""
    assert 1 == held_share(tone()) == held_share(tone(event=Event(Q(0), Q(1), 0, articulations=frozenset({"accent"}))))


def test_the_notes_of_an_ornament_lead_on_whatever_is_printed() -> None:
    """A dot over the main note is not for the small note before it."""
    dotted = Event(Q(0), Q(1), 0, articulations=frozenset({"staccato"}))
    assert 1 == held_share(tone(role="before", event=dotted))
    assert is_slurred_on(tone(role="before", event=dotted))
    assert not is_slurred_on(tone(event=dotted))


def test_tied_notes_are_one_stroke() -> None:
    """Three of one pitch are one as long as all, slurred on as the last is."""
    last = tone(2, tied_back=True, event=Event(Q(2), Q(1), 0, slur_on=True))
    (joined,) = join_ties([tone(0, tied_on=True), tone(1, tied_on=True, tied_back=True), last])
    assert (Q(0), Q(3), True) == (joined.onset_q, joined.duration_q, joined.event.slur_on)


def test_a_tie_without_a_beginning_is_struck() -> None:
    """So is one that does not end where the next begins."""
    assert 2 == len(join_ties([tone(0), tone(1, tied_back=True)]))
    assert 2 == len(join_ties([tone(0, tied_on=True), tone(2, tied_back=True)]))
