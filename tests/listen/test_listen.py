import math

import numpy as np
import pytest
import soundfile
from scipy.signal import fftconvolve

from appui.errors import SoundError
from appui.listen.align import align
from appui.listen.frames import RATE
from appui.listen.line import line_of
from appui.listen.listen import Wanted, listen, listen_samples
from appui.listen.picture import picture
from appui.listen.take import load, take_of
from appui.sound.synth import render_blocks

BARS = "1-10"


def said(report):
    return {each.place.name: each for each in report.places}


def test_the_line_has_the_full_size_notes_and_the_places_of_the_ornaments(piece) -> None:
    """Small notes take no time in it; they are named with the note they belong to."""
    line = line_of(piece.interpretation, piece.interpretation.order("6"))
    (place,) = line.places
    assert ("oboe.6.1", (87,), 86) == (place.name, place.small, line.steps[place.step].key)
    assert 3 == sum(step.length_q for step in line.steps)


def test_the_keys_of_a_trill_may_sound_within_its_note(piece) -> None:
    """Neighbours and the notes after it are no wrong notes."""
    line = line_of(piece.interpretation, piece.interpretation.order("7"))
    trill = next(place for place in line.places if place.upper)
    assert trill.upper in line.steps[trill.step].also


def test_every_ornament_of_a_rendering_is_heard_as_it_was_decided(report) -> None:
    """What the tool plays the tool hears: before or on the beat, right or silent, and silent seldom."""
    small = [each for each in report.places if each.place.small]
    assert 7 == len(small)
    for each in small:
        wanted = each.place.decided.placement
        assert each.how in (wanted, "cannot tell", *(["not on"] if wanted == "before" else [])), each.place.name
    assert 1 >= sum(each.how == "cannot tell" for each in small)


def test_the_length_of_a_leaning_note_is_heard(report) -> None:
    """Half of a dotted quarter at 72: 417 ms, within a frame or two."""
    assert said(report)["oboe.10.1"].length_s == pytest.approx(0.417, abs=0.02)
    assert said(report)["oboe.6.1"].length_s == pytest.approx(0.833, abs=0.02)


def test_the_weight_of_a_leaning_note_is_heard(report) -> None:
    """Four decibels more than its release."""
    assert "heavier" == said(report)["oboe.6.1"].weight


def test_small_notes_before_the_beat_are_told_from_those_on_it(piece, played) -> None:
    """The same bars with readings exchanged are heard exchanged."""
    changed = {"oboe.2.1": "leaning 1/3", "oboe.6.1": "before 90 ms", "oboe.3.1+2/3": "before 90 ms"}
    heard = said(listen_samples(piece.interpretation, played(changed), "take", Wanted(BARS)))
    assert ["on", "before", "before"] == [heard[place].how for place in changed]


@pytest.mark.parametrize(
    ("readings", "how"),
    [
        ({}, "on"),
        ({"oboe.25.1": "before 90 ms"}, "before"),
        ({"oboe.25.1": "before 90 ms", "oboe.25.1.2": "trill from the main note"}, "before"),
        ({"oboe.25.1": "plain", "oboe.25.1.2": "trill from the main note"}, "left out"),
    ],
)
def test_a_small_note_before_a_trill_of_its_pitch_is_told_by_the_first_sound(piece, played, readings, how) -> None:
    """Where the first of all these notes is, and whether it is the small note's."""
    heard = said(listen_samples(piece.interpretation, played(readings, "22-27"), "take", Wanted("22-27")))
    assert how == heard["oboe.25.1"].how
    assert math.isnan(heard["oboe.25.1"].length_s), "how long it is among the others cannot be told"


def test_on_the_beat_before_a_trill_may_also_be_the_trill_alone(piece, played) -> None:
    """A trill from above without the small note sounds the same, and that is said."""
    heard = said(listen_samples(piece.interpretation, played({"oboe.25.1": "plain"}, "22-27"), "take", Wanted("22-27")))
    assert "on" == heard["oboe.25.1"].how
    assert "would sound the same" in heard["oboe.25.1"].why[0]
    assert "the first note begins" in picture(heard["oboe.25.1"], "", None, 0.01)


def test_a_small_note_after_a_rest_is_not_sought_in_what_still_sounds_softly(piece, played) -> None:
    """A tone of its pitch, 20 dB under the solo throughout the rest, as of a track taken out, is silence."""
    alone = played({"oboe.5.1": "before 90 ms"})
    expected_s = said(listen_samples(piece.interpretation, alone, "take", Wanted(BARS)))["oboe.5.1"].small_s[0]
    at_s = np.arange(len(alone)) / RATE
    d5 = 440 * 2 ** (5 / 12)
    tone = sum(np.sin(2 * np.pi * d5 * part * at_s) / part for part in range(1, 6))
    loud = np.sqrt(np.mean(alone**2))
    rest = (at_s > expected_s - 1.6) & (at_s < expected_s)
    with_rest = (alone + 0.1 * loud * tone / np.sqrt(np.mean(tone**2)) * rest).astype(np.float32)
    heard = said(listen_samples(piece.interpretation, with_rest, "take", Wanted(BARS)))["oboe.5.1"]
    assert "before" == heard.how
    assert heard.small_s[0] == pytest.approx(expected_s, abs=0.03)


def test_a_small_note_left_out_is_told(piece, played) -> None:
    """It is not invented."""
    heard = said(listen_samples(piece.interpretation, played({"oboe.6.1": "plain"}), "take", Wanted(BARS)))
    assert "left out" == heard["oboe.6.1"].how


def test_a_trill_is_heard_note_by_note(report) -> None:
    """Its speed within a tenth, its notes within two; the notes printed at its end are no termination."""
    heard = said(report)["oboe.7.2"]
    decided = heard.place.decided.notes
    assert heard.trill is not None
    assert 13 == pytest.approx(heard.trill.rate, rel=0.1)
    assert abs(len(decided) - heard.trill.count) <= 2
    assert ("plain", True) == (heard.trill.ending, heard.trill.printed_end)


def test_a_midi_file_is_heard_exactly(piece, midi) -> None:
    """Lengths to the tick, weights to the velocity."""
    heard = said(listen(piece.interpretation, midi, Wanted(BARS)))
    one = heard["oboe.6.1"]
    assert "on" == one.how
    assert one.place.decided.length_s == pytest.approx(one.length_s, abs=0.002)
    assert one.place.decided.weight_db == pytest.approx(one.weight_db, abs=0.01)


def test_silence_is_refused(piece) -> None:
    """With what to do about it."""
    with pytest.raises(SoundError, match="is silent"):
        listen_samples(piece.interpretation, np.zeros(5 * RATE, np.float32), "take", Wanted(BARS))


def test_another_piece_is_refused(piece, played) -> None:
    """Other bars of the same piece too."""
    with pytest.raises(SoundError, match="does not sound like these bars"):
        listen_samples(piece.interpretation, played(bars="17-22"), "take", Wanted("1-6"))


def test_a_take_at_another_pitch_is_heard_all_the_same(piece, plain_take) -> None:
    """The spectra are learned from the take, whatever its pitch: a semitone higher, as a tape would be."""
    heard = said(listen_samples(piece.interpretation, _quicker(plain_take), "take", Wanted(BARS)))
    assert ["on", "before", "on"] == [heard[place].how for place in ("oboe.6.1", "oboe.2.1", "oboe.10.1")]


def test_at_another_pitch_no_spectra_are_trusted(piece, plain_take) -> None:
    """The notes are found, but what was learned of them does not part one from what rings of the other."""
    line = line_of(piece.interpretation, piece.interpretation.order(BARS))
    assert align(line, take_of(plain_take, "take")).spectra is not None
    assert align(line, take_of(_quicker(plain_take), "take")).spectra is None


def _quicker(samples: np.ndarray) -> np.ndarray:
    at = np.arange(0, len(samples) - 1, 2 ** (1 / 12))
    quicker: np.ndarray = np.interp(at, np.arange(len(samples)), samples).astype(np.float32)
    return quicker


def test_a_take_after_the_take_is_told(piece, plain_take, played) -> None:
    """It is not misread as part of the first."""
    both = np.concatenate([plain_take, np.zeros(RATE, np.float32), played(bars="17-20")])
    heard = listen_samples(piece.interpretation, both, "take", Wanted(BARS))
    assert any("a second take" in notice for notice in heard.notices)


def test_a_false_start_is_left_out_and_told(piece, played) -> None:
    """The bars are found after it."""
    take = np.concatenate([played(bars="1-2")[: 4 * RATE], np.zeros(RATE, np.float32), played(bars="1-6")])
    heard = listen_samples(piece.interpretation, take, "take", Wanted("1-6"))
    assert any("a false start" in notice for notice in heard.notices)
    assert "on" == said(heard)["oboe.6.1"].how


def test_skipped_bars_are_told_and_nothing_is_said_of_them(piece, played) -> None:
    """The notes of bars 5 and 6 are nowhere."""
    take = np.concatenate([played(bars="1-4")[: round(9.8 * RATE)], played(bars="7-12")])
    heard = listen_samples(piece.interpretation, take, "take", Wanted("1-12"))
    assert any("bars 5 to 6" in notice for notice in heard.notices)
    assert {"cannot tell"} == {said(heard)[place].how for place in ("oboe.5.1", "oboe.5.2", "oboe.6.1")}


@pytest.mark.parametrize("what", ["tone", "noise"])
def test_a_tone_or_noise_is_no_take(piece, what) -> None:
    """What is learned from a take would fit anything: the harmonics of the notes must be there."""
    at = np.arange(10 * RATE)
    noise = np.random.default_rng(0).normal(size=len(at)) / 10
    samples = (0.3 * np.sin(2 * np.pi * 440 * at / RATE) if what == "tone" else noise).astype(np.float32)
    with pytest.raises(SoundError, match="does not sound like these bars"):
        listen_samples(piece.interpretation, samples, "take", Wanted("1-8"))


def test_repeats_are_heard_where_they_are_taken(piece) -> None:
    """Without a word about it; each time is told by itself."""
    whole = piece.play(repeats=True)
    assert whole.length_s > piece.play(repeats=False).length_s
    solo = whole.solo().performance
    blocks = render_blocks(solo, sample_rate=RATE, reverb=False)
    take = np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)
    heard = listen_samples(piece.interpretation, take, "take", Wanted())
    assert any(place.endswith("(2nd time)") for place in said(heard))


def test_repeats_are_not_heard_where_they_are_left_out(piece) -> None:
    """The whole movement once, in a room that rings for 0.7 s with noise 42 dB down: each place is told once."""
    once = piece.play(repeats=False).solo().performance
    sound = np.concatenate([block.mean(axis=1) for block in render_blocks(once, sample_rate=RATE, reverb=False)])
    rng = np.random.default_rng(1)
    tail = rng.normal(size=round(0.7 * RATE)) * np.logspace(0, -3, round(0.7 * RATE))
    tail *= 10 ** (-8 / 20) / np.sqrt((tail**2).sum())
    tail[0] = 1
    ringing = fftconvolve(sound, tail)
    noise = rng.normal(size=len(ringing)) * np.sqrt(np.mean(ringing**2)) * 10 ** (-42 / 20)
    take = (ringing + noise).astype(np.float32)
    report = listen_samples(piece.interpretation, take, "take", Wanted(solo_alone=True))
    assert len({each.place.sign.place for each in report.places}) == len(report.places)


def test_the_tuning_is_heard(plain_take) -> None:
    """Within three cents of 440."""
    assert abs(1200 * np.log2(take_of(plain_take, "take").a4_hz / 440)) < 3


def test_a_take_is_read_at_any_rate_and_mixed_to_one_channel(tmp_path) -> None:
    """A second of 440 Hz at 48 kHz in stereo is a second at our rate."""
    tone = 0.3 * np.sin(2 * np.pi * 440 * np.arange(48_000) / 48_000)
    soundfile.write(tmp_path / "a.flac", np.stack([tone, tone], axis=1), 48_000)
    samples = load(tmp_path / "a.flac")
    assert RATE == pytest.approx(len(samples), abs=2)
    assert 0.3 == pytest.approx(float(np.abs(samples[2000:-2000]).max()), abs=0.01)


@pytest.mark.parametrize("name", ["none.wav", "text.wav"])
def test_what_is_no_sound_is_refused(tmp_path, name) -> None:
    """By a sentence that names the file."""
    (tmp_path / "text.wav").write_text("no sound")
    with pytest.raises(SoundError, match=name):
        load(tmp_path / name)


def test_what_is_no_midi_is_refused(piece, tmp_path) -> None:
    """A text called .mid, too."""
    (tmp_path / "x.mid").write_text("no midi")
    with pytest.raises(SoundError, match="cannot be read as MIDI"):
        listen(piece.interpretation, tmp_path / "x.mid", Wanted())
