"""Practice tracks in shaped time: click, count-in, gaps and loops go with the music."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from appui.demo import demo_score
from appui.errors import PlanError
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.practice.click import ClickPattern, parse_click
from appui.practice.passage import perform_passage
from appui.practice.plan import make_track
from appui.practice.tag import tag_of, times_in
from appui.practice.track import Piece, Track, whole_performance
from appui.practice.week import digest_of, read_week
from appui.practice.wish import Wish
from tests.there import there


@pytest.fixture(scope="module")
def player() -> Interpretation:
    """The demo in shaped time."""
    return interpret(demo_score(), Wishes(time="shaped"))


def clicks_s(track: Track) -> list[float]:
    """The moments of all clicks."""
    return [piece.onset_s + note.onset_s for piece in _clicks(track) for note in piece.performance.parts[0].notes]


def _clicks(track: Track) -> list[Piece]:
    return [piece for piece in track.pieces if piece.group == "click"]


def test_strict_is_what_is_left_out(interpretation) -> None:
    """Nothing asked for, the beats are even: one tempo over four bars."""
    track = make_track(interpretation, Wish(bars="1-4", click=ClickPattern()))
    assert 1 == len(track.tempos)


def test_the_click_falls_on_the_notes(player) -> None:
    """Every first beat of the solo that has a note has a click at the same moment."""
    track = make_track(player, Wish("guide", bars="1-8", click=parse_click("bar"), count_in=0))
    clicks = clicks_s(track)
    (solo,) = (piece for piece in track.pieces if piece.group == "solo")
    order = player.order("1-8")
    begun = {note.onset_q: solo.onset_s + note.onset_s for note in solo.performance.parts[0].notes}
    shared = [(begun[at], clicks[n]) for n, each in enumerate(order) if (at := each.onset_q + -solo.onset_q) in begun]
    assert len(shared) >= 4
    assert [one for one, _ in shared] == pytest.approx([other for _, other in shared], abs=1e-6)


def test_beats_differ(player) -> None:
    """The clicks are not even, as those of the strict track are."""
    clicks = clicks_s(make_track(player, Wish(bars="1-8", click=parse_click("bar"), count_in=0)))
    lengths = [later - earlier for earlier, later in pairwise(clicks)]
    assert max(lengths) > 1.02 * min(lengths)


def test_the_count_in_has_the_pace_of_the_first_bar(player) -> None:
    """Half a bar's beats last half of what the first bar lasts, to a thousandth."""
    track = make_track(player, Wish(bars="5-8", click=parse_click("beats")))
    passage = perform_passage(player, "5-8")
    bar_s = passage.seconds(passage.first.length_q)
    assert bar_s == pytest.approx(track.round_s[0], rel=1e-3)


def test_a_gap_is_in_time_again(player) -> None:
    """After the slowing at the end of the piece the gap has the pace of the bar that comes next."""
    bars = f"{player.score.bars[-5].number}-{player.score.bars[-2].number}"
    track = make_track(player, Wish(bars=bars, times=2, gap=1, count_in=0))
    passage = perform_passage(player, bars)
    gap_s = track.round_s[1] - track.round_s[0] - passage.body_s
    assert float(passage.first.meter.bar_q * 60 / passage.qpm) == pytest.approx(gap_s, abs=1e-6)
    assert passage.qpm > passage.qpm_at(passage.body_q - Fraction(1, 8))


def test_rounds_are_alike(player) -> None:
    """A loop's rounds last the same, and the loop is known, so that it is mixed once."""
    track = make_track(player, Wish(bars="1-4", times=3, click=ClickPattern()))
    first, second, third = track.round_s
    assert second - first == pytest.approx(third - second, abs=1e-9)
    assert len(track.loops) == 1


def test_bars_are_counted_alike(player) -> None:
    """Whether a beat is counted in parts is told by the tempo that is marked, not by a beat that gives or takes."""
    for tempo in ("51", "49"):
        passage = perform_passage(player.at_tempo(tempo), "1-8")
        meters = [passage.score.bars[each.bar].meter for each in passage.order]
        tempos = [passage.counted_qpm(each) for each in passage.order]
        counts = {len(list(ClickPattern().bar(*each))) for each in zip(meters, tempos, strict=True)}
        assert 1 == len(counts)


def test_the_midi_file_has_the_curve(player) -> None:
    """Its tempos put every note where the sound has it."""
    track = make_track(player, Wish("guide", bars="1-8", times=2, click=ClickPattern(), gap=1))
    made = whole_performance(track)
    for part in made.parts:
        for note in part.notes:
            assert made.seconds(note.onset_q) == pytest.approx(note.onset_s, abs=1e-3)


def test_a_take_over_it_knows_its_beats(player) -> None:
    """What the track tells `listen` of its time is its time."""
    track = make_track(player, Wish(bars="1-8"))
    times, passage = there(times_in(tag_of(track))), perform_passage(player, "1-8")
    for each in passage.order:
        told = times.seconds(track.round_s[0], each.onset_q)
        assert track.round_s[0] + passage.seconds(each.onset_q) == pytest.approx(told, abs=1e-3)


def test_a_ladder_bends_alike_at_every_tempo(player) -> None:
    """At half tempo the bars last twice as long, each."""
    slow, quick = (perform_passage(player.at_tempo(tempo), "1-8") for tempo in ("50%", "100%"))
    for each in quick.order[1:]:
        assert 2 * quick.seconds(each.onset_q) == pytest.approx(slow.seconds(each.onset_q), rel=1e-3)


def test_a_set_says_whether_its_time_is_shaped(tmp_path) -> None:
    """Strict unless it says shaped; another word is refused; the two are different tracks."""
    file, digests = tmp_path / "week.toml", set()
    for words, time in (("", "strict"), ('time = "shaped"\n', "shaped")):
        file.write_text(f'score = "{demo_score()}"\n{words}[[track]]\nname = "a"\n', encoding="utf-8")
        week = read_week(file)
        assert time == week.time
        digests.add(digest_of(week))
    assert 2 == len(digests)
    file.write_text(f'score = "{demo_score()}"\ntime = "round"\n[[track]]\nname = "a"\n', encoding="utf-8")
    with pytest.raises(PlanError, match="expected strict or shaped"):
        read_week(file)


def test_levels_do_not_change_with_the_time(player) -> None:
    """The same velocities, strict or shaped."""
    strict = replace(player, wishes=replace(player.wishes, time="strict"))
    levels = [
        [[note.velocity for note in part.notes] for part in play(each, each.order("1-8")).parts]
        for each in (player, strict)
    ]
    assert levels[0] == levels[1]
