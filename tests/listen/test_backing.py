"""Takes over a track: made by `practice`, played over through a loudspeaker or under headphones."""

from dataclasses import replace

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from scipy.signal import fftconvolve

from appui.cli.main import cli
from appui.demo import demo_score
from appui.errors import SoundError
from appui.exact import Fraction
from appui.listen import listen as chain
from appui.listen.backing import Backing, delay_of, led_line, open_backing, without
from appui.listen.beat import Beat
from appui.listen.frames import RATE
from appui.listen.judge import Heard
from appui.listen.line import line_of
from appui.listen.listen import Wanted, over_track
from appui.listen.report import differs
from appui.practice.deliver import Job, deliver
from appui.practice.plan import make_track
from appui.practice.tag import tag_of, times_in
from appui.practice.wish import Wish
from tests.there import there

BARS = "1-6"


@pytest.fixture(scope="module")
def track(piece, tmp_path_factory):
    """A practice track of six bars, twice, as a file."""
    path = tmp_path_factory.mktemp("track") / "track.flac"
    deliver([Job(lambda: make_track(piece.interpretation, Wish(bars=BARS, times=2)), (path,), words="slow")])
    return path


@pytest.fixture(scope="module")
def backing(track) -> Backing:
    """The same, opened."""
    return open_backing(track)


@pytest.fixture(scope="module")
def solo(piece, played, backing) -> np.ndarray:
    """The solo played twice over the track, to the sample."""
    one = played(bars=BARS)
    lead_s = piece.play(bars=BARS).performance.seconds(piece.play(bars=BARS).performance.lead_q)
    out = np.zeros(len(backing.samples) + 3 * RATE, np.float32)
    for at_s in backing.times.rounds_s:
        start = round((at_s - lead_s) * RATE)
        out[start : start + len(one)] += one
    return out


def leaked(backing: Backing, solo: np.ndarray, late_s: float) -> np.ndarray:
    """The track in the room, softer and coloured, under the solo."""
    response = np.zeros(800)
    response[[0, 150, 431, 790]] = 0.3, 0.1, -0.08, 0.05
    heard = fftconvolve(backing.samples, response)
    out = np.zeros(len(solo) + RATE, np.float32)
    start = round(late_s * RATE)
    out[start : start + len(heard)] += heard[: len(out) - start]
    out[start : start + len(solo)] += solo[: len(out) - start]
    return out


def test_a_track_tells_its_rounds(backing) -> None:
    """A bar of count-in, then two rounds of six bars in 6/8 at 72 quarters."""
    assert (2.5, 17.5) == pytest.approx(backing.times.rounds_s)
    assert 3.75 == pytest.approx(backing.times.seconds(2.5, Fraction(3, 2)))
    assert "1-6" == backing.times.bars


def test_a_ladder_tells_each_tempo(piece) -> None:
    """The second round is slower by half."""
    track = make_track(piece.interpretation, Wish(bars="1-2", tempos=("100%", "50%")))
    times = there(times_in(tag_of(track)))
    first, second = (times.seconds(at, Fraction(3)) - at for at in times.rounds_s)
    assert 2 == pytest.approx(second / first)


def test_a_round_that_is_played_for_you_is_none_of_yours(piece) -> None:
    """An echo track has the answers only."""
    track = make_track(piece.interpretation, Wish(bars="1-2", mode="echo"))
    assert 1 == len(there(times_in(tag_of(track))).rounds_s)


def test_the_delay_of_a_track_is_found_to_the_millisecond(backing, solo) -> None:
    """Under the solo, in a room."""
    found = delay_of(leaked(backing, solo, 0.321), backing.samples)
    assert 0.321 == pytest.approx(found.delay_s, abs=0.001)


def test_under_headphones_no_track_is_found(backing, solo) -> None:
    """Nothing is made of chance."""
    assert delay_of(solo, backing.samples).delay_s is None


def test_the_track_is_taken_out(backing, solo) -> None:
    """What is left of it is 15 dB softer than it was."""
    take = leaked(backing, 0 * solo, 0.2)
    left = without(take, backing.samples, 0.2)
    assert np.mean(left**2) < np.mean(take**2) * 10**-1.5


@pytest.mark.parametrize("heard", [True, False])
def test_each_round_is_judged_by_the_beats_of_the_track(piece, backing, solo, heard) -> None:
    """Through a loudspeaker and under headphones."""
    take = leaked(backing, solo, 0.25) if heard else solo
    reports = over_track(piece.interpretation, take, backing, "take", Wanted())
    assert 2 == len(reports)
    for report in reports:
        for each in report.places:
            assert each.how in (each.place.decided.placement, "cannot tell", "not on"), each
    assert ("headphones" in reports[0].notices[0]) is not heard


def test_a_file_that_is_no_track_of_ours_is_refused(tmp_path) -> None:
    """It does not say when its bars are."""
    soundfile.write(tmp_path / "x.wav", np.zeros(RATE), RATE)
    with pytest.raises(SoundError, match="does not say when its bars are played"):
        open_backing(tmp_path / "x.wav")


def test_a_track_hardly_heard_is_tried_where_the_strokes_agree_with_another_place(
    piece, backing, solo, monkeypatch
) -> None:
    """Before the take is refused: the player's strokes may fit the track some seconds off."""
    take = leaked(replace(backing, samples=0.05 * backing.samples), solo, 0.2)
    take += np.random.default_rng(1).normal(0, 0.004, len(take)).astype(np.float32)
    found = delay_of(take, backing.samples)
    assert found.delay_s is None
    assert 0.2 == pytest.approx(found.likeliest_s, abs=0.01)
    monkeypatch.setattr(chain, "delay_by_notes", lambda *_: 6.0)
    reports = over_track(piece.interpretation, take, backing, "take", Wanted())
    assert 2 == len(reports)
    assert "taken out" in reports[0].notices[0]


def test_over_a_slow_track_what_was_decided_takes_as_much_longer(piece) -> None:
    """A leaning note of 833 ms is one of 1.67 s at half tempo, and played so it is as decided."""
    track = make_track(piece.interpretation, Wish(bars="1-8", tempos=("50%",)))
    times = there(times_in(tag_of(track)))
    line = led_line(line_of(piece.interpretation, piece.interpretation.order("1-8")), times, times.rounds_s[0])
    place = next(place for place in line.places if place.name == "oboe.6.1")
    assert 2 == pytest.approx(place.pace)
    assert 1.67 == pytest.approx(place.decided.length_s, abs=0.01)
    for played_s, differing in ((1.67, 0), (0.83, 2)):
        heard = Heard(place, "on", 1.0, 1.0, Beat(1.0, 0.01), (1.0,), 1.0 + played_s, length_s=played_s)
        assert differing == differs(heard)


def test_a_quick_small_note_may_be_as_quick_over_a_slow_track(piece) -> None:
    """90 ms at the score's tempo: 90 ms and 180 ms at half of it are as decided, 400 ms are not."""
    track = make_track(piece.interpretation, Wish(bars="1-8", tempos=("50%",)))
    times = there(times_in(tag_of(track)))
    line = led_line(line_of(piece.interpretation, piece.interpretation.order("1-8")), times, times.rounds_s[0])
    place = next(place for place in line.places if place.name == "oboe.2.1")
    for played_s, differing in ((0.09, 0), (0.18, 0), (0.4, 2)):
        heard = Heard(place, "before", 1.0, 0.0, Beat(2.0, 0.01), (2.0 - played_s,), 2.0, length_s=played_s)
        assert differing == differs(heard)


@pytest.mark.parametrize("comment", ["", "for takes: bars=1 repeats=no rounds=a tempo=0@0/72", "slow"])
def test_a_comment_that_tells_nothing_is_none(comment) -> None:
    """Words of other programs, and numbers that are none."""
    assert times_in(comment) is None


def test_a_practice_round_from_the_command_line(track, backing, solo, tmp_path) -> None:
    """Track, take over it, report: a column a round."""
    take = tmp_path / "take.flac"
    soundfile.write(take, leaked(backing, solo, 0.25), RATE)
    done = CliRunner().invoke(cli, ["listen", str(demo_score()), str(take), "--backing", str(track)])
    assert 0 == done.exit_code
    assert 2 == done.stdout.count("the track is heard in the take")
    row = next(line for line in done.stdout.splitlines() if line.startswith("oboe.6.1"))
    assert 2 == row.count("on, 8")


def test_a_track_and_nobody_else_exclude_one_another() -> None:
    """Before minutes of listening."""
    line = ["listen", str(demo_score()), "take.flac", "--backing", "track.flac", "--solo-alone"]
    assert "give one" in str(CliRunner().invoke(cli, line).exception)
