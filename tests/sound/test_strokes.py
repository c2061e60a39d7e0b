"""One key of one channel sounds once at a time; parts beyond fifteen find seats where they disturb nobody."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from appui.sound.midi import PPQ
from appui.sound.seats import PERCUSSION, Seat, seats
from appui.sound.strokes import Stroke, clash, single_strokes

STROKES = st.lists(
    st.builds(
        lambda key, start, length, velocity: Stroke(key, start, start + length, velocity),
        st.integers(60, 62),
        st.integers(0, 40),
        st.integers(1, 20),
        st.integers(1, 127),
    ),
    max_size=20,
)


def sounding(strokes) -> set[tuple[int, int]]:
    """Every (key, moment) at which something sounds."""
    return {(stroke.key, moment) for stroke in strokes for moment in range(stroke.start, stroke.stop)}


def seated(parts, strokes=None):
    """Seats of parts whose strokes are their notes at 960 ticks."""
    made = [
        [Stroke(n.key, int(n.onset_q * PPQ), int((n.onset_q + n.duration_q) * PPQ), n.velocity) for n in part.notes]
        for part in parts
    ]
    return seats(parts, made)


@given(STROKES)
def test_what_sounds_is_neither_more_nor_less(strokes) -> None:
    """The same keys sound at the same moments."""
    assert sounding(strokes) == sounding(single_strokes(strokes))


@given(STROKES)
def test_a_key_sounds_once_at_a_time(strokes) -> None:
    """Strokes of one key do not overlap, and every moment of attack is kept."""
    single = list(single_strokes(strokes))
    assert all(a.stop <= b.start for a, b in pairwise(single) if a.key == b.key)
    assert {(s.key, s.start) for s in strokes} == {(s.key, s.start) for s in single}


@given(STROKES, STROKES)
def test_clash_is_what_it_says(one, other) -> None:
    """Two voices clash exactly where a key of both is held, or let go, at one moment: tried moment by moment."""
    one, other = list(single_strokes(one)), list(single_strokes(other))
    slow = any(a.key == b.key and a.start <= b.stop and b.start <= a.stop for a in one for b in other)
    assert slow == clash(one, other)


def test_fifteen_parts_take_the_channels_in_order(part) -> None:
    """The first port is enough for fifteen, without channel 10."""
    assert [Seat(0, channel) for channel in range(16) if channel != PERCUSSION] == seated([part([])] * 15)


def test_the_sixteenth_part_shares_with_its_like(part) -> None:
    """A part of the same program whose keys never meet the other's shares its channel, and never the solo's."""
    others = [part([(0, 1, 60, 90)], program) for program in range(30, 43)]
    solo, low, high = part([(0, 1, 50, 90)], 68, solo=True), part([(0, 1, 60, 90)], 68), part([(2, 1, 60, 90)], 68)
    found = seated([solo, low, *others, high])
    assert Seat(0, 0) == found[0]
    assert found[1] == found[-1]


def test_the_sixteenth_part_takes_a_second_port_rather_than_disturb(part) -> None:
    """Where a note-off would end another part's note, or the programs differ, there is a port more."""
    same = [part([(0, 1, 60, 90)], 40) for _ in range(16)]
    other = [*same[:15], part([(5, 1, 60, 90)], 41)]
    assert Seat(1, 0) == seated(same)[15] == seated(other)[15]


def test_the_solo_keeps_the_first_seat_wherever_it_stands(part) -> None:
    """The solo is on the first port, alone, even as the twentieth part."""
    parts = [*(part([(0, 1, 60, 90)], 40) for _ in range(19)), part([(0, 1, 60, 90)], 40, solo=True)]
    found = seated(parts)
    assert Seat(0, 0) == found[-1]
    assert 1 == found.count(Seat(0, 0))


def test_percussion_parts_stay_on_the_tenth_channel(part) -> None:
    """A second one that meets the first plays on the tenth channel of the next port."""
    clicks = part([(0, 1, 76, 90)], 0, percussion=True)
    assert [Seat(0, 9), Seat(1, 9)] == seated([clicks, clicks])
