"""Tracks laid out: what sounds when, in exact quarters and in seconds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from appui.errors import PlaceError, UsageError
from appui.exact import Fraction
from appui.perform.perform import only
from appui.perform.play import play
from appui.plan.plan import plan_text
from appui.practice.click import ClickPattern, parse_click
from appui.practice.passage import perform_passage
from appui.practice.plan import make_track
from appui.practice.track import Track, whole_performance
from appui.practice.wish import Wish
from appui.score.pitch import Transposition


def names(track: Track) -> list[str]:
    """What the rounds are called."""
    return [mark.text for mark in track.marks if mark.kind == "round"]


def clicks(track: Track) -> list[Fraction]:
    """Where clicks stand on the track."""
    return [
        piece.onset_q + note.onset_q
        for piece in track.pieces
        if piece.group == "click"
        for note in piece.performance.parts[0].notes
    ]


def groups(track: Track) -> list[str]:
    """Which groups sound, in order."""
    return [piece.group for piece in track.pieces]


def test_modes_say_when_the_solo_sounds(interpretation) -> None:
    """Along never, guide always, echo first with and then without it."""
    wish = Wish(bars="1-4", count_in=0, times=2)
    along, guide, echo = (groups(make_track(interpretation, replace(wish, mode=m))) for m in ("along", "guide", "echo"))
    assert ["accompaniment"] * 2 == along
    assert ["accompaniment", "solo"] * 2 == guide
    assert ["accompaniment", "solo", "accompaniment"] * 2 == echo


def test_alternating_readings(interpretation) -> None:
    """In one reading, then in the other, as often as wished."""
    track = make_track(interpretation, Wish("alternate", bars="1-4", times=2, count_in=0))
    assert 4 == len(names(track))
    assert names(track)[0][3:] == names(track)[2][3:] != names(track)[1][3:]
    solos = [piece.performance.parts[0].notes for piece in track.pieces if piece.group == "solo"]
    assert solos[0] == solos[2] != solos[1]


def test_rounds_keep_the_beat(interpretation) -> None:
    """A round begins where the bars of the last end: 4 bars of 6/8 later, at each tempo of the ladder."""
    track = make_track(interpretation, Wish(bars="1-4", tempos=("50%", "100%"), times=3, count_in=0))
    full_s = float(12 * 60 / interpretation.score.tempos[0].qpm)
    steps = [b - a for a, b in zip(track.round_s, track.round_s[1:], strict=False)]
    assert [2 * full_s] * 3 + [full_s] * 2 == pytest.approx(steps, abs=1e-9)


def test_a_count_in_before_each_tempo(interpretation) -> None:
    """Two bars of three, then the music."""
    track = make_track(interpretation, Wish(bars="1-4", tempos=("50%", "100%"), count_in=2))
    assert ["count-in", "1, 50%", "count-in", "1, 100%"] == names(track)
    marks = [mark.onset_q for mark in track.marks if mark.kind == "round"]
    assert [0, 6, 18, 24] == marks
    # at 50% and below 50 beats a minute, the beats are subdivided
    assert [0, 1, 2, 3, 4, 5] == [q for q in clicks(track) if q < 6 and q.denominator == 1]


def test_a_pickup_is_counted_into(written, note, meter) -> None:
    """A pickup quarter in 3/4: three beats and two more before it."""
    bars = [("<!--pickup-->" + note("G4", 2), note("G3", 2)), (note("C5", 6), note("C3", 6))]
    interpretation = written(bars, head=meter(3, 4), qpm=100)
    track = make_track(interpretation, Wish(count_in=1, click=ClickPattern()))
    assert [0, 1, 2, 3, 4, 5, 6, 7, 8] == clicks(track)
    ranks = [n.key for p in track.pieces if p.group == "click" for n in p.performance.parts[0].notes]
    assert [76, 77, 77, 76, 77, 77, 76, 77, 77] == ranks
    assert Fraction(5) == next(mark.onset_q for mark in track.marks if mark.text == "1, 100%")


def test_clicks_know_a_change_of_meter(written, note, meter) -> None:
    """2/4, then 5/8 in 3+2 with its eighths."""
    change = f"<attributes>{meter(5, 8)}</attributes>"
    bars = [(note("C5", 4), note("C3", 4)), (change + note("C5", 5), change + note("C3", 5))]
    track = make_track(written(bars, head=meter(2, 4), qpm=100), Wish(count_in=0, click=ClickPattern()))
    assert [0, 1, 2, Fraction(5, 2), 3, Fraction(7, 2), 4] == clicks(track)


def test_silent_bars_drop_the_click_every_other_bar(interpretation) -> None:
    """Also where the number of bars is odd and the loop comes round."""
    track = make_track(interpretation, Wish(bars="1-3", times=2, count_in=0, click=parse_click("bar,silent")))
    assert [0, 6, 12] == clicks(track)


def test_a_gap_between_rounds(interpretation) -> None:
    """One bar, and the click goes on."""
    track = make_track(interpretation, Wish(bars="1-2", times=2, gap=1, count_in=0, click=parse_click("bar")))
    assert [0, 9] == [mark.onset_q for mark in track.marks if mark.kind == "round"]
    assert [0, 3, 6, 9, 12] == clicks(track)


def test_a_fermata_stops_the_click_and_counts_in_again(written, note, meter) -> None:
    """The click marks the hold's start, is silent, and comes back two beats before its end, at the old tempo."""
    pause = "<notations><fermata/></notations>"
    bars = [(note("C5", 2) + note("D5", 6, pause), note("C3", 8)), (note("E5", 8), note("C3", 8))]
    interpretation = written(bars, head=meter(4, 4), qpm=100)
    track = make_track(interpretation, Wish("guide", count_in=0, click=ClickPattern()))
    passage = perform_passage(interpretation, None)
    (hold,) = passage.holds
    assert 1 == hold.start_q
    assert 4 == hold.end_q
    onsets = [n.onset_s for p in track.pieces if p.group == "click" for n in p.performance.parts[0].notes]
    begins_s = 0.6
    ends_s = begins_s + 3 * 0.6 * float(hold.times)
    after = [ends_s + beat * 0.6 for beat in range(-2, 4)]
    assert [0, begins_s, *after] == pytest.approx(onsets)
    assert ends_s + 4 * 0.6 == pytest.approx(track.length_s)


def test_a_tempo_change_is_followed(written, note, meter) -> None:
    """Half as fast in the second bar: the clicks come twice as late."""
    slower = '<sound tempo="60"/>'
    bars = [(note("C5", 4), note("C3", 4)), (slower + note("C5", 4), note("C3", 4))]
    track = make_track(written(bars, head=meter(2, 4), qpm=120), Wish(count_in=0, click=ClickPattern()))
    onsets = [n.onset_s for p in track.pieces if p.group == "click" for n in p.performance.parts[0].notes]
    assert [0, 0.5, 1, 2] == pytest.approx(onsets)


def test_a_repeat_takes_the_second_plan(written, note, meter, tmp_path) -> None:
    """The first time plain, the second time in the other plan's readings."""
    small = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><type>eighth</type></note>"
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    bars = [(note("E5", 4) + small + note("C5", 4), note("C3", 8)), (note("C5", 8) + repeat, note("C3", 8) + repeat)]
    interpretation = written(bars, head=meter(4, 4), qpm=60)
    place = interpretation.signs[0].place
    choice = replace(interpretation.choices[place], reading=interpretation.reading(place, "leaning 3/4"), by="--take")
    file = tmp_path / "two.toml"
    file.write_text(plan_text(interpretation.score, interpretation.style.name, [choice]))
    again = interpretation.with_plan(file)
    assert "leaning 3/4" == again.choices[place].reading.text
    track = make_track(interpretation, Wish("guide", count_in=0), again=again)
    solo = next(piece.performance.parts[0].notes for piece in track.pieces if piece.group == "solo")
    first, second = ([n for n in solo if start <= n.onset_q < start + 8] for start in (0, 8))
    expected = [[n.onset_q + 8 for n in _alone(s)] for s in (interpretation, again)]
    assert [n.onset_q + 8 for n in first] == expected[0]
    assert [n.onset_q for n in second] == expected[1]
    assert expected[0] != expected[1]


def _alone(interpretation):
    return only(play(interpretation, interpretation.order("1-2", repeats=False)), solo=True).parts[0].notes


def test_transposed_up_a_tone(interpretation) -> None:
    """Every note two semitones higher, spelled a letter higher."""
    plain, high = (
        whole_performance(make_track(interpretation, Wish("guide", bars="1-4", interval=interval)))
        for interval in (Transposition(), Transposition(1, 2))
    )
    for one, two in zip(plain.parts, high.parts, strict=True):
        shift = 0 if one.percussion else 2
        assert [n.key + shift for n in one.notes] == [n.key for n in two.notes]


def test_a_transposition_out_of_range_is_refused(written, note, meter) -> None:
    """MIDI ends at 127."""
    interpretation = written([(note("F9", 8), note("C3", 8))], head=meter(4, 4))
    with pytest.raises(UsageError, match="F9 leaves the range of MIDI keys; take a smaller interval"):
        make_track(interpretation, Wish("guide", interval=Transposition(7, 12)))


def test_a_solo_without_other_parts_is_told(written, note, meter, tmp_path) -> None:
    """An along track would be silent; the remedy is said, once for all tempos."""
    interpretation = written([(note("C5", 8), "<forward><duration>8</duration></forward>")], head=meter(4, 4))
    track = make_track(interpretation, Wish(tempos=("50%", "100%")))
    (place, words), *others = track.notices
    assert ("accompaniment", []) == (place, others)
    assert words.startswith("no part but the solo plays in these bars")


def test_the_drone_lies_under_the_music(interpretation) -> None:
    """From the first beat after the count to the end."""
    track = make_track(interpretation, Wish(bars="1-4", drone="1", times=2))
    drone = next(piece for piece in track.pieces if piece.group == "drone")
    assert 3 == drone.onset_q
    assert 24 == drone.performance.parts[0].notes[0].duration_q


def test_a_group_switched_off_is_not_there(interpretation) -> None:
    """Also in the MIDI file."""
    track = make_track(
        interpretation, Wish(bars="1-4", count_in=0, levels={"accompaniment": float("-inf")}, mode="guide")
    )
    assert {"solo"} == set(groups(track))


@pytest.mark.parametrize(
    ("wish", "error", "words"),
    [
        (Wish(bars="4-1"), PlaceError, "bar 4 comes after bar 1"),
        (Wish(bars="1-900"), PlaceError, r"has no bar '900'; its bars are"),
        (Wish(tempos=("0",)), UsageError, "tempo 0 is outside 5 to 600"),
        (Wish(tempos=("10000",)), UsageError, "tempo 10000 is outside 5 to 600 beats a minute"),
        (Wish(click=ClickPattern(groups=(3, 2))), UsageError, r"groups 3\+2 make 5, the meter is 6/8"),
    ],
)
def test_what_the_score_does_not_have(interpretation, wish: Wish, error, words: str) -> None:
    """Bars, tempos and groups."""
    with pytest.raises(error, match=words):
        make_track(interpretation, wish)
