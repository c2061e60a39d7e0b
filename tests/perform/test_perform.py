"""Performing: seconds, levels and touch of small scores at 60 quarter notes a minute."""

import math
from itertools import pairwise

import pytest

from appui.exact import Fraction
from tests.perform.playing import dynamic, played, wedge
from tests.realize.voices import note, score, small

TENUTO = "<articulations><tenuto/></articulations>"


def test_attack_moves_only_the_start() -> None:
    """MusicXML 4.0 (read): two divisions of eight are a quarter of a second here; the stop stays."""
    (one,) = played(score(note("E5", 8, TENUTO, attributes="attack='2'")))
    assert pytest.approx((0.25, 1.0)) == (one.onset_s, one.onset_s + one.duration_s)


def test_release_moves_only_the_stop() -> None:
    """MusicXML 4.0 (read): four divisions early is half a second here; the start stays."""
    (one,) = played(score(note("E5", 8, TENUTO, attributes="release='-4'")))
    assert pytest.approx((0.0, 0.5)) == (one.onset_s, one.onset_s + one.duration_s)


@pytest.mark.parametrize(("percent", "velocity"), [(100, 90), (50, 45), (71, 64), (141, 127), (200, 127)])
def test_note_dynamics_are_percent_of_ninety(percent, velocity) -> None:
    """MusicXML 4.0 (read): the default forte is velocity 90; MIDI ends at 127."""
    (one,) = played(score(note("E5", 8, attributes=f"dynamics='{percent}'")))
    assert velocity == one.velocity


def test_a_hairpin_leads_from_mark_to_mark() -> None:
    """From p (51) to f (90) the middle, in decibels, is their geometric mean."""
    bar = dynamic("p") + wedge("crescendo") + note("E5", 16) + note("F5", 16) + wedge("stop")
    notes = played(score(bar, dynamic("f") + note("G5", 32)))
    assert [51, round(math.sqrt(51 * 90)), 90] == [one.velocity for one in notes]


def test_tied_notes_are_one() -> None:
    """Struck once, held to the end of the last, less the stroke of the tongue."""
    (one,) = played(score(note("E5", 32, "<tie type='start'/>"), note("E5", 8, "<tie type='stop'/>")))
    assert pytest.approx(5 - 0.025) == one.duration_s


def test_staccato_is_held_somewhat_less_than_half() -> None:
    """C.P.E. Bach 1753, ch. 3 §17 (read)."""
    (one,) = played(score(note("E5", 8, "<articulations><staccato/></articulations>")))
    assert 0.4 <= one.duration_s < 0.5


@pytest.mark.parametrize(("tempo", "second_s"), [(None, 1.0), ("60%", 1 / 0.6), ("72", 60 / 72)])
def test_practice_tempo(tempo, second_s) -> None:
    """A percentage of the written tempo, or beats a minute."""
    notes = played(score(note("E5", 8) + note("F5", 8)), tempo=tempo)
    assert pytest.approx(second_s) == notes[1].onset_s


def test_beats_a_minute_are_the_meters_beats() -> None:
    """In 6/8 a player's 72 are dotted quarters."""
    notes = played(score(note("E5", 12) + note("F5", 12), meter="6/8"), tempo="72")
    assert pytest.approx(60 / 72) == notes[1].onset_s


@pytest.mark.parametrize(("slowing", "short_s"), [("natural", 0.075), ("scaled", 0.15)])
def test_slowing(slowing, short_s) -> None:
    """C.P.E. Bach 1753, 2.2 §13 (read): short stays short in slow tempo, unless the whole is slowed."""
    music = score(small("F5") + note("E5", 32))
    notes = played(music, tempo="50%", slowing=slowing, takes=("oboe.1.1=short",))
    assert ("short", pytest.approx(short_s)) == (notes[0].role, notes[1].onset_s)


def test_the_release_is_softer_by_the_weight() -> None:
    """C.P.E. Bach 1753, 2.2 §7 (read): louder than what follows; 4 dB is our choice, velocities are rounded."""
    notes = played(score(small("F5") + note("E5", 32)), takes=("oboe.1.1=leaning 1/2",), weight_db=Fraction(4))
    assert ["lean", "release"] == [one.role for one in notes]
    assert pytest.approx(4, abs=0.25) == 40 * math.log10(notes[0].velocity / notes[1].velocity)


def test_repeats_are_played_when_asked_for() -> None:
    """A repeated bar sounds twice, its second time a bar later."""
    music = score(note("E5", 32) + "<barline location='right'><repeat direction='backward'/></barline>")
    assert [0.0] == [one.onset_s for one in played(music)]
    assert [0.0, 4.0] == [one.onset_s for one in played(music, repeats=True)]


@pytest.mark.parametrize("sign", ["turn", "delayed-turn", "mordent", "schleifer"])
def test_quick_notes_are_slurred_into_their_note(sign) -> None:
    """C.P.E. Bach 1753, 2.1 §24 (read): one glides from the small notes into the main note; no silence between."""
    heard = played(score(note("E5", 16, f"<ornaments><{sign}/></ornaments>")))
    for one, other in pairwise(heard):
        assert pytest.approx(other.onset_s) == one.onset_s + one.duration_s


def test_a_chain_of_leaning_notes_weighs_what_is_said() -> None:
    """A release that leads to the next leaning note keeps its weight: the rise before that one is for plain notes."""
    music = score(*(small("F5") + note("E5", 8) + small("E5") + note("D5", 8) for _ in range(2)), meter="2/4")
    takes = tuple(f"oboe.{bar}.{beat}=leaning 1/2" for bar in (1, 2) for beat in (1, 2))
    notes = played(music, takes=takes, weight_db=Fraction(8))
    assert ["lean", "release"] * 4 == [one.role for one in notes]
    for lean, release in zip(notes[::2], notes[1::2], strict=True):
        assert pytest.approx(8, abs=0.3) == 40 * math.log10(lean.velocity / release.velocity)
