"""Quick notes: how a length is divided, and how many of them there is time for."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.realize.contract import Stand
from appui.realize.quick import RATE, head, landings, off_beat_ms, q_of_ms, quick_q, split
from appui.score.model import Score
from appui.score.pitch import natural
from appui.score.signs import find_signs
from appui.style.reading import Reading
from tests.realize.voices import note, ornament, score

Q = Fraction
MUSIC: Score = score(note("C5", 32, ornament("<turn/>")))


def stand(length_q: Fraction, **sizes: Fraction | str) -> Stand:
    """A turn over a note that lasts so long, at 60 quarters a minute; no instrument speaks slower than 0.1 s."""
    (sign,) = find_signs(MUSIC)
    event = sign.main(MUSIC)
    made = Stand(
        sign,
        Reading("turn").with_sizes(**sizes),
        event,
        event.top,
        Q(0),
        length_q,
        length_q,
        Q(60),
        Q(0),
        lambda steps: natural(event.top.sounding.diatonic + steps),
    )
    return replace(made, floor_q=Q(1, 10))


@given(st.fractions(Q(1, 64), 40), st.lists(st.fractions(Q(1, 8), 8), min_size=1, max_size=9))
def test_parts_of_a_length_add_up_to_it(length_q: Fraction, weights: list[Fraction]) -> None:
    """Exactly, whatever they weigh."""
    parts = split(Q(length_q), [Q(weight) for weight in weights])
    assert length_q == sum(parts)
    assert all(part > 0 for part in parts)


@pytest.mark.parametrize(("count", "ms"), [(1, 95), (2, 180), (3, 200), (4, 260), (6, 380)])
def test_small_notes_off_the_beat_last_longer_the_more_there_are(count: int, ms: int) -> None:
    """(n)ASAP, computed; beyond three 60 ms each."""
    assert ms == off_beat_ms(count)


def test_quick_notes_go_at_their_usual_speed_and_take_half_the_note_at_most() -> None:
    """Thirteen a second where there is room."""
    assert 1 / RATE == quick_q(stand(Q(4)), 4)
    assert Q(1, 16) == quick_q(stand(Q(1, 2)), 4)


def test_a_share_is_a_share_but_stays_quick() -> None:
    """Of a long note no more than 125 ms a note."""
    assert Q(1, 16) == quick_q(stand(Q(1), share=Q(1, 4)), 4)
    assert q_of_ms(125, Q(60)) == quick_q(stand(Q(8), share=Q(1, 2)), 4)


def test_where_there_is_time_every_note_is_played() -> None:
    """Four quick notes, then the main note for what is left."""
    here = stand(Q(4))
    cut = head(here, (1, 0, -1, 0), "turn", here.auxiliary)
    assert ["D5", "C5", "B4", "C5"] == [tone.pitch.name for tone in cut.head]
    assert (cut.head[-1].end_q, Q(4), "") == (cut.start_q, cut.end_q, cut.notice)


def test_where_there_is_none_notes_are_left_off_the_front() -> None:
    """A fifth of a second holds one of four; it is said."""
    here = stand(Q(1, 5))
    cut = head(here, (1, 0, -1, 0), "turn", here.auxiliary)
    assert ["C5"] == [tone.pitch.name for tone in cut.head]
    assert cut.notice.endswith("1 of 4 quick notes are played")


@given(st.integers(2, 60), st.integers(0, 100), st.integers(0, 100))
def test_landings_rise_and_begin_at_once(beats: int, second: int, last: int) -> None:
    """MusicXML 4.0, trill-sound (read): the second and the last land on their percentages."""
    found = landings(stand(Q(4)), beats, Q(second), Q(last))
    assert beats == len(found)
    assert 0 == found[0]
    assert found == sorted(set(found))
    assert found[-1] < 1
    if beats > 2 and 0 < second < last < 100:
        assert [Q(second, 100), Q(last, 100)] == [found[1], found[-1]]
