"""What alternates: the signs that are read in two ways, told and heard."""

from __future__ import annotations

from dataclasses import replace

import pytest

from appui.errors import PlaceError, UsageError
from appui.plan.plan import plan_text
from appui.practice.change import changes_wished
from appui.practice.passage import perform_passage
from appui.practice.plan import make_track
from appui.practice.track import whole_performance
from appui.practice.wish import Wish, check_wish

ALTERNATE = Wish("alternate", bars="1-4", count_in=0)
PLACES = ("oboe.2.1", "oboe.3.1+2/3", "oboe.4.1")


def solos(track):
    """The solo's notes in every round."""
    return [piece.performance.parts[0].notes for piece in track.pieces if piece.group == "solo"]


def test_every_sign_with_a_rival_changes(interpretation) -> None:
    """All three of the four bars, each told with both readings and heard in the second round."""
    track = make_track(interpretation, ALTERNATE)
    told = dict(words.split(": ") for words in track.changes)
    assert PLACES == tuple(told)
    for place, words in told.items():
        first, second = words.split(", then ")
        assert (
            interpretation.choices[place].reading.text == first != second in interpretation.choices[place].alternatives
        )
    one, other = (
        {place: [note[:2] for note in notes if note.sign == place] for place in PLACES} for notes in solos(track)
    )
    assert all(one[place] and one[place] != other[place] for place in PLACES)


def test_named_signs_change_alone(interpretation) -> None:
    """One by its first rival, one by the reading named; the others stay."""
    track = make_track(interpretation, replace(ALTERNATE, changes=("oboe.4.1", "oboe.2.1=leaning 1/2")))
    assert ("oboe.4.1: leaning 1/2, then before", "oboe.2.1: before, then leaning 1/2") == track.changes
    first, second = solos(track)
    for place, kept in {"oboe.3.1+2/3": True, "oboe.2.1": False, "oboe.4.1": False}.items():
        small, other = (next(note[:2] for note in notes if note.sign == place) for notes in (first, second))
        assert kept == (small == other)


def test_a_swell_stands_in_its_own_round(interpretation) -> None:
    """Struck in rounds one and three, swelling in two and four: expression moves with the notes it is for."""
    wish = replace(ALTERNATE, times=2, changes=("oboe.4.1=leaning 1/2 swelling",))
    solo = next(part for part in whole_performance(make_track(interpretation, wish)).parts if part.solo)
    leans = [note for note in solo.notes if note.sign == "oboe.4.1" and note.role == "lean"]
    for number, note in enumerate(leans):
        within = [each for each in solo.controls if note.onset_q <= each.onset_q <= note.onset_q + note.duration_q]
        assert (number % 2 == 1) == bool(within)
        assert all(0 <= each.onset_s - note.onset_s < note.duration_s + 0.02 for each in within)
    assert 127 == solo.controls[-1].value
    assert 4 == len(leans)


def test_a_swell_of_the_second_plan_stands_in_the_repeat(written, note, meter, tmp_path) -> None:
    """The first time struck, the second time swelling, and loud again where the bar ends."""
    small = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><type>half</type></note>"
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    interpretation = written([(small + note("C5", 8) + repeat, note("E3", 8) + repeat)], head=meter(4, 4))
    choice = interpretation.choices[interpretation.signs[0].place]
    swelling = replace(choice, reading=interpretation.reading(choice.place, "leaning 1/2 swelling"), by="--take")
    (tmp_path / "two.toml").write_text(plan_text(interpretation.score, interpretation.style.name, [swelling]))
    track = make_track(interpretation, Wish("guide", count_in=0), again=interpretation.with_plan(tmp_path / "two.toml"))
    solo = next(part for part in whole_performance(track).parts if part.solo)
    assert solo.controls
    assert all(4 <= control.onset_q <= 6 for control in solo.controls)
    assert 127 == solo.controls[-1].value


@pytest.mark.parametrize(
    ("words", "error", "message"),
    [
        ("oboe.4.9", PlaceError, r"has no ornament at 'oboe\.4\.9'; near it"),
        ("oboe.6.1", UsageError, r"change 'oboe\.6\.1': oboe\.6\.1 is not in bars 1-4; name an ornament there"),
        ("oboe.4.1=trill", UsageError, "trill"),
    ],
)
def test_a_change_that_cannot_be_made_is_refused(interpretation, words: str, error, message: str) -> None:
    """No such place, elsewhere, or no reading of that sign."""
    with pytest.raises(error, match=message):
        changes_wished(interpretation, "1-4", (words,))


def test_a_change_is_for_alternating() -> None:
    """Other modes have one reading."""
    with pytest.raises(UsageError, match=r"change 'oboe\.4\.1' is for the mode alternate, not echo"):
        check_wish(Wish("echo", changes=("oboe.4.1",)))


def test_no_sign_no_alternative(written, note, meter) -> None:
    """The remedy is said."""
    interpretation = written([(note("C5", 8), note("C3", 8))], head=meter(4, 4))
    with pytest.raises(UsageError, match="no ornament of the solo in these bars has another way to alternate with"):
        make_track(interpretation, Wish("alternate"))


@pytest.fixture
def other(interpretation, tmp_path):
    """The demo with a second plan, oboe.4.1 longer."""
    choice = replace(
        interpretation.choices["oboe.4.1"], reading=interpretation.reading("oboe.4.1", "leaning 3/4"), by="--take"
    )
    (tmp_path / "two.toml").write_text(plan_text(interpretation.score, interpretation.style.name, [choice]))
    return interpretation.with_plan(tmp_path / "two.toml")


def test_a_second_plan_tells_what_it_changes(interpretation, other) -> None:
    """In every mode; where it changes nothing there is nothing to alternate."""
    for mode in ("guide", "echo", "alternate"):
        track = make_track(interpretation, replace(ALTERNATE, mode=mode, times=2), again=other)
        assert ("oboe.4.1: leaning 1/2, then leaning 3/4",) == track.changes
    with pytest.raises(UsageError, match="the second plan plays all ornaments of these bars as the first"):
        make_track(interpretation, replace(ALTERNATE, bars="1-2"), again=other)
    with pytest.raises(UsageError, match=r"a second plan says what alternates; leave it out, or change 'oboe\.2\.1'"):
        make_track(interpretation, replace(ALTERNATE, changes=("oboe.2.1",)), again=other)


def test_an_echo_takes_the_second_plan_from_the_second_round(interpretation, other) -> None:
    """Heard first as printed, then embellished."""
    first, second = solos(make_track(interpretation, replace(ALTERNATE, mode="echo", times=2), again=other))
    assert first == _solo(interpretation)
    assert second == _solo(other) != first


def _solo(interpretation):
    return next(part for part in perform_passage(interpretation, "1-4").performance.parts if part.solo).notes


def test_a_hold_that_changes_stops_the_click_in_its_own_round(written, note, meter) -> None:
    """A fermata held in one reading and played on in the other: the click goes on in the second."""
    pause = "<notations><fermata/></notations>"
    interpretation = written([(note("C5", 8, pause), note("C3", 8)), (note("D5", 8), note("D3", 8))], head=meter(4, 4))
    place = interpretation.signs[0].place
    held, plain = (
        perform_passage(interpretation, None, changed=changed)
        for changed in (None, {place: interpretation.reading(place, "plain")})
    )
    assert (1, 0) == (len(held.holds), len(plain.holds))
    assert held.body_s > plain.body_s
