"""Practice tracks heard: clicks, seams, sides, sums and loudness, measured from the samples of the files."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
import soundfile

from appui.perform.play import play
from appui.practice.click import ClickPattern, parse_click
from appui.practice.deliver import Job, deliver
from appui.practice.mix import Mixer
from appui.practice.plan import make_track
from appui.practice.wish import Wish
from appui.sound.loudness import measure
from appui.sound.wav import WavWriter
from tests.there import there

RATE = 44_100
ALONE = float("-inf")


def deliver_wishes(interpretation, folder, wishes: dict[str, Wish]):
    """Write one set; returns the samples of each file."""
    jobs = [
        Job(partial(make_track, interpretation, wish), (folder / name,), title=name) for name, wish in wishes.items()
    ]
    deliver(jobs)
    return {name: soundfile.read(folder / name, dtype="float32")[0] for name in wishes}


def onsets(sound: np.ndarray) -> list[float]:
    """Where clicks begin, in seconds: the first sample above a twentieth of the peak after 80 ms of less."""
    level = abs(sound).max(axis=1)
    loud = np.flatnonzero(level > level.max() / 20)
    starts = loud[np.flatnonzero(np.diff(loud, prepend=-RATE) > 0.08 * RATE)]
    return [float(start) / RATE for start in starts]


@pytest.fixture(scope="module")
def clicked(interpretation, tmp_path_factory) -> np.ndarray:
    """Twenty rounds of two bars with nothing but the click, a bar of count-in before."""
    wish = Wish(
        "along",
        bars="1-2",
        tempos=("200%",),
        times=20,
        click=ClickPattern(),
        levels={"accompaniment": ALONE},
    )
    made: np.ndarray = deliver_wishes(interpretation, tmp_path_factory.mktemp("x"), {"x.wav": wish})["x.wav"]
    return made


def test_clicks_and_seams_keep_the_beat(interpretation, clicked) -> None:
    """Each of 82 beats, over twenty seams, within 3 ms of its moment counted from the first."""
    found = onsets(clicked)
    beat_s = 1.5 * 60 / float(2 * interpretation.score.tempos[0].qpm)
    assert 2 + 20 * 4 == len(found)
    off = [moment - found[0] - number * beat_s for number, moment in enumerate(found)]
    assert [0] * len(off) == pytest.approx(off, abs=0.003)
    assert 0 == pytest.approx(found[0], abs=0.003)


def test_compound_clicks_after_a_pickup(written, note, meter, tmp_path) -> None:
    """6/8 at 60 dotted quarters with an eighth before the bar: all eighths counted, within 3 ms, both ears alike."""
    bars = [("<!--pickup-->" + note("G4", 1), note("G3", 1)), (note("C5", 6), note("C3", 6))]
    interpretation = written(bars, head=meter(6, 8), qpm=90)
    wish = Wish(bars=None, click=parse_click("subdivided"), levels={"accompaniment": ALONE})
    sound = deliver_wishes(interpretation, tmp_path, {"x.wav": wish})["x.wav"]
    # a full bar, five eighths of the pickup's bar, the pickup, a bar
    assert [n / 3 for n in range(6 + 5 + 1 + 6)] == pytest.approx(onsets(sound), abs=0.003)
    assert np.array_equal(sound[:, 0], sound[:, 1])


def test_the_seam_of_music_is_no_gap(interpretation, tmp_path) -> None:
    """Round two begins to sound where it should: it is the first round again, a loop's length later."""
    mixer = Mixer(tmp_path)
    track = make_track(interpretation, Wish("guide", bars="1-2", times=3, count_in=0))
    mixer.render([track])
    sound = np.concatenate(list(mixer.blocks(track)))
    second, third = (round(moment * RATE) for moment in track.round_s[1:])
    assert abs(sound[second:third] - sound[third : third + third - second])[: RATE * 2].max() < 1e-3 * abs(sound).max()


def test_along_and_solo_make_the_whole(interpretation, tmp_path) -> None:
    """Files of one set: accompaniment + solo - whole is silence, to the rounding of 24 bits."""
    whole = Wish("guide", bars="1-4", levels={"solo": 0})
    sounds = deliver_wishes(
        interpretation,
        tmp_path,
        {
            "whole.wav": whole,
            "along.wav": replace(whole, mode="along"),
            "solo.wav": replace(whole, levels={"solo": 0, "accompaniment": ALONE, "click": ALONE}),
        },
    )
    frames = min(map(len, sounds.values()))
    rest = sounds["whole.wav"][:frames] - sounds["along.wav"][:frames] - sounds["solo.wav"][:frames]
    assert abs(sounds["solo.wav"]).max() > 0.01
    assert abs(rest).max() < 4 / 2**23


def test_the_mix_is_what_one_synthesizer_would_play(interpretation, tmp_path) -> None:
    """The stems added up and the whole rendered at once agree within -60 dB of the peak."""
    from appui.sound.audio import blocks_of, render_stem

    track = make_track(interpretation, Wish("guide", bars="1-4", count_in=0, levels={"solo": 0}))
    mixer = Mixer(tmp_path)
    mixer.render([track])
    mixed = np.concatenate(list(mixer.blocks(track)))
    performance = play(interpretation, interpretation.order("1-4", repeats=False))
    whole = np.concatenate(list(blocks_of([render_stem(performance, tmp_path / "whole")])))
    frames = round(performance.length_s * RATE)
    assert abs(mixed[:frames] - whole[:frames]).max() < 1e-3 * abs(whole).max()


def test_one_loudness_one_gain(interpretation, tmp_path) -> None:
    """The loudest of the set is at -23 LUFS, no true peak is above -1 dBTP, all have one gain."""
    wishes = {"a.flac": Wish("guide", bars="1-4", levels={"solo": 6}), "b.flac": Wish(bars="1-4")}
    jobs = [Job(partial(make_track, interpretation, w), (tmp_path / n,), title=n) for n, w in wishes.items()]
    done = deliver(jobs)
    found = [measure([soundfile.read(tmp_path / name, dtype="float32")[0]], RATE) for name in wishes]
    assert -23 == pytest.approx(max(each.lufs for each in found), abs=0.05)
    assert all(each.peak_dbtp <= -1 for each in found)
    assert 1 == len({each.gain_db for each in done})
    for each, heard in zip(done, found, strict=True):
        assert there(each.lufs) + there(each.gain_db) == pytest.approx(heard.lufs, abs=0.05)


def test_a_loop_is_measured_once_and_counts_as_often(interpretation, tmp_path) -> None:
    """Six rounds measured by two agree with all six within 0.1 LU."""
    track = make_track(interpretation, Wish(bars="1-2", times=6, click=ClickPattern()))
    mixer = Mixer(tmp_path)
    mixer.render([track])
    assert 1 == len(track.loops)
    assert measure(mixer.blocks(track), RATE).lufs == pytest.approx(mixer.measure(track).lufs, abs=0.1)


def test_guide_on_one_side(interpretation, tmp_path) -> None:
    """Spread 100: the solo on the left only, the accompaniment on the right only."""
    wish = Wish("guide", bars="1-4", count_in=0, pan=100)
    sounds = deliver_wishes(
        interpretation,
        tmp_path,
        {
            "both.wav": wish,
            "along.wav": replace(wish, mode="along"),
            "alone.wav": replace(wish, levels={"accompaniment": ALONE}),
        },
    )
    assert 0 == abs(sounds["along.wav"][:, 0]).max() == abs(sounds["alone.wav"][:, 1]).max()
    assert min(abs(sounds["along.wav"][:, 1]).max(), abs(sounds["alone.wav"][:, 0]).max()) > 0.01


def test_levels_are_decibels(interpretation, tmp_path) -> None:
    """12 dB less is a quarter, sample by sample."""
    mixer = Mixer(tmp_path)
    loud, soft = (
        make_track(interpretation, Wish(bars="1-2", count_in=0, levels={"accompaniment": level}))
        for level in (0, -12.0412)
    )
    mixer.render([loud, soft])
    one, other = (np.concatenate(list(mixer.blocks(track))) for track in (loud, soft))
    assert abs(one / 4 - other).max() < 1e-5


def test_the_same_sound_is_rendered_once(interpretation, tmp_path) -> None:
    """Along, guide and echo of one passage share two stems; three clicks are three strokes."""
    wish = Wish(bars="1-4", times=3, click=parse_click("subdivided"))
    tracks = [make_track(interpretation, replace(wish, mode=mode)) for mode in ("along", "guide", "echo")]
    mixer = Mixer(tmp_path)
    mixer.render(tracks)
    assert ([2, 3]) == [sum(name.startswith(kind) for name in mixer.stems) for kind in ("stem-", "click-")]


def test_same_wishes_same_bytes(interpretation, tmp_path) -> None:
    """Whatever the order the cores finish in."""
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        deliver_wishes(
            interpretation, tmp_path / name, {"x.flac": Wish("guide", bars="1-4", click=ClickPattern(), drone="5")}
        )
    assert (tmp_path / "a/x.flac").read_bytes() == (tmp_path / "b/x.flac").read_bytes()


def test_rounds_that_come_again_are_copied(interpretation, tmp_path, monkeypatch) -> None:
    """A WAV file of four rounds, most of it copied, holds the samples the mix has, to the last bit."""
    copied: list[int] = []
    again = WavWriter.again

    def counting(self, start, frames):
        copied.append(frames)
        again(self, start, frames)

    monkeypatch.setattr(WavWriter, "again", counting)
    mixer = Mixer(tmp_path)
    track = make_track(interpretation, Wish("guide", bars="1-4", times=4, click=ClickPattern()))
    mixer.render([track])
    mixer.write(track, tmp_path / "x.wav", -6.0, {})
    mixed = np.concatenate(list(mixer.blocks(track))) * np.float32(10 ** (-6 / 20))
    heard = soundfile.read(tmp_path / "x.wav", dtype="int32")[0] >> 8
    assert np.array_equal(np.rint(mixed * 2**23).astype(int), heard)
    assert len(heard) / 3 < sum(copied) < len(heard)
