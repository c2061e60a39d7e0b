"""Recordings in which the others play too: some bars of the demo, rendered without human timing."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

import appui
from appui.errors import SoundError
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.listen.frames import RATE
from appui.listen.full import Slice, located, slices_of
from appui.listen.line import line_of
from appui.listen.listen import Report, Wanted, listen_samples
from appui.listen.separate import WITH_OTHERS, solo_of
from appui.listen.take import take_of
from appui.perform.model import Performance
from appui.sound.synth import render_blocks
from tests.listen.test_onsets import tone
from tests.written import bar, note, part, score

BARS = "1-10"
#  none of these is how the place is decided
CHANGED = {"oboe.2.1": "leaning 2/3", "oboe.6.1": "before 90 ms"}


@pytest.fixture(scope="module")
def performance(piece: appui.Piece) -> Performance:
    """Some bars by all the players."""
    return piece.play(bars=BARS, readings=CHANGED).performance


@pytest.fixture(scope="module")
def recording(performance: Performance) -> np.ndarray:
    """The same as sound."""
    blocks = render_blocks(performance, sample_rate=RATE, reverb=False)
    return np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)


@pytest.fixture(scope="module")
def full(piece: appui.Piece, recording: np.ndarray) -> Report:
    """What is heard in it."""
    return listen_samples(piece.interpretation, recording, "recording", Wanted(BARS))


def test_a_recording_with_the_others_is_known_as_one(full) -> None:
    """It is said that the solo was taken out of it."""
    assert WITH_OTHERS in full.notices


def test_a_take_of_the_solo_is_not_mistaken_for_a_full_recording(report) -> None:
    """Nothing is taken out of it."""
    assert WITH_OTHERS not in report.notices


def test_small_notes_before_and_on_are_told_apart_though_others_play(full) -> None:
    """What was exchanged is heard exchanged, never the other way round."""
    heard = {each.place.name: each for each in full.places}
    assert heard["oboe.2.1"].how in ("on", "cannot tell")
    assert heard["oboe.6.1"].how in ("before", "not on", "cannot tell")
    assert {heard[place].how for place in CHANGED} != {"cannot tell"}


def test_a_long_leaning_note_begins_where_it_does_though_others_play(performance, full) -> None:
    """It lasts 0.8 s and begins with the beat: within 70 ms."""
    begun_s = next(
        note.onset_s
        for part in performance.parts
        for note in part.notes
        if (note.sign, note.role) == ("oboe.2.1", "lean")
    )
    heard = next(each for each in full.places if each.place.name == "oboe.2.1")
    assert begun_s == pytest.approx(heard.small_s[0], abs=0.07)


def test_a_trill_is_counted_though_others_play(full) -> None:
    """Its speed within a tenth."""
    trill = next(each.trill for each in full.places if each.place.name == "oboe.7.2")
    assert trill is not None
    assert 13 == pytest.approx(trill.rate, rel=0.1)


def test_a_recording_of_other_bars_is_refused(piece, recording) -> None:
    """The others' notes do not make a solo."""
    with pytest.raises(SoundError, match="does not sound like these bars"):
        listen_samples(piece.interpretation, recording, "recording", Wanted("22-30"))


def test_slices_are_found_where_they_were_played(piece, recording) -> None:
    """The rough look is within a tenth of a second for half of them, without any human timing."""
    order = piece.interpretation.order(BARS)
    slices = slices_of(piece.interpretation, order, line_of(piece.interpretation, order))
    found = np.array(located(slices, take_of(recording, "recording")).starts_s)
    away = found - np.array([each.nominal_s for each in slices])
    assert 0.1 > np.median(np.abs(away - np.median(away)))


def test_the_slices_keep_the_time_of_the_line_beyond_a_fermata() -> None:
    """Every note of the solo begins a slice at the moment the line has it, whether or not a note before is held."""
    held = note("C5", 4, "<notations><fermata/></notations>")
    upper = part(bar(held, note("D5", 4), note("E5", 8)), bar(note("F5", 16)), name="Oboe")
    lower = part(bar(note("C3", 8), note("G3", 8)), bar(note("C3", 16)), name="Bass")
    interpretation = interpret_analysis(Analysis(score(upper, lower)))
    line = line_of(interpretation, interpretation.order())
    slices = slices_of(interpretation, interpretation.order(), line)
    assert {step.nominal_s for step in line.steps} <= {each.nominal_s for each in slices}


def test_a_trill_begins_where_its_own_keys_do_though_the_others_hold_theirs() -> None:
    """After a long note on its upper key: any of its keys may sound, not all at once."""
    keys = [(79, 0.0, 1.5), *((78 + n % 2, 1.5 + n / 12, 1.5 + (n + 1) / 12) for n in range(24)), (74, 3.5, 4.5)]
    sound = sum(tone(key, begins_s, ends_s, 5.0) for key, begins_s, ends_s in keys) + 0.3 * tone(57, 0.0, 4.5, 5.0)
    solo, others = (frozenset({79}), frozenset({76, 77, 78, 79, 80}), frozenset({74})), frozenset({57})
    nominal_s = (0.0, 1.5, 3.5, 4.5)
    slices = [Slice(*when, each, others) for when, each in zip(pairwise(nominal_s), solo, strict=True)]
    assert 1.5 == pytest.approx(located(slices, take_of(np.asarray(sound), "recording")).starts_s[1], abs=0.1)


def test_where_nothing_but_the_solo_may_sound_all_is_kept() -> None:
    """Sample for sample, over the seams of the parts in which the solo is taken out."""
    noise = np.random.default_rng(1).normal(0, 0.1, 70 * RATE).astype(np.float32)
    solo = solo_of(noise, [Slice(0.0, 71.0, frozenset({69}), frozenset())], [0.0], 440.0)
    assert 1e-3 > np.abs(solo - noise).max()


def test_where_only_the_solo_is_said_to_play_nothing_is_taken_out(piece, recording) -> None:
    """A full recording is then refused: its notes are not the solo's."""
    with pytest.raises(SoundError, match="does not sound like these bars"):
        listen_samples(piece.interpretation, recording, "recording", Wanted(BARS, solo_alone=True))
