"""Sound made when it is asked for."""

import io
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from appui.errors import PlaceError, UsageError
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.sound.tuning import make_tuning
from appui.stand.heard import RATE, Engine, How, Sound
from tests.stand.conftest import DEMO


@pytest.fixture(scope="module")
def player() -> Interpretation:
    """The demo."""
    return interpret(DEMO, Wishes(solo="oboe", shape="shaped", time="shaped"))


@pytest.fixture(scope="module")
def engine() -> Iterator[Engine]:
    """One engine for all."""
    made = Engine()
    yield made
    made.close()


def samples(sound: Sound) -> NDArray[np.float64]:
    """The two channels, accompaniment and solo."""
    read, rate = soundfile.read(io.BytesIO(sound.wav), always_2d=True)
    assert rate == RATE
    return np.asarray(read)


def test_the_accompaniment_is_on_the_left_and_the_solo_on_the_right(player: Interpretation, engine: Engine) -> None:
    """Bar 4 of the demo's oboe rests in its second half while the strings play."""
    sound = engine.bars(player, "4", {}, How(strict=True))
    read, line = samples(sound), sound.timeline
    late = read[round((line.lead_s + 0.8 * line.body_s) * RATE) : round((line.lead_s + 0.95 * line.body_s) * RATE)]
    assert np.abs(late[:, 1]).max() < 0.05 * np.abs(late[:, 0]).max()


def test_another_way_of_playing_changes_the_solo_alone(player: Interpretation, engine: Engine) -> None:
    """The accompaniment is the same, sample for sample, and the place keeps its time."""
    sign = player.sign_at("oboe.4.1")
    leaning, before = (engine.ornament(player, sign, words, How()) for words in ("leaning 1/2", "before"))
    one, other = samples(leaning), samples(before)
    assert leaning.timeline == before.timeline
    assert np.array_equal(one[:, 0], other[:, 0])
    assert np.abs(one[:, 1] - other[:, 1]).max() > 0.05


def test_the_timeline_tells_bars_and_beats(player: Interpretation, engine: Engine) -> None:
    """In 6/8 at an even tempo two beats a bar, as far apart as the tempo says; a bar is counted in."""
    line = engine.bars(player, "5-6", {}, How(tempo="50%", strict=True)).timeline
    beat_s = 60 / (line.qpm / 1.5)
    moments = [moment for moment, _ in line.clicks if moment < line.lead_s + line.body_s - 0.001]
    assert [4, 5] == [bar for _, bar in line.bars]
    assert all(
        abs(later - earlier - beat_s) < 0.001 for earlier, later in pairwise(moments) if later - earlier > beat_s / 2
    )
    assert 4 * beat_s == pytest.approx(line.body_s, abs=0.001)
    assert 2 * beat_s == pytest.approx(line.count_s, abs=0.001)


def test_half_the_tempo_lasts_twice_as_long(player: Interpretation, engine: Engine) -> None:
    """To the millisecond, where the beat is even."""
    full, half = (engine.bars(player, "9-10", {}, How(tempo=tempo, strict=True)).timeline for tempo in ("100%", "50%"))
    assert 2 * full.body_s == pytest.approx(half.body_s, abs=0.001)


def test_nothing_is_clipped(player: Interpretation, engine: Engine) -> None:
    """Both channels together stay below full scale: the browser adds them up."""
    assert np.abs(samples(engine.bars(player, "16-18", {}, How())).sum(1)).max() < 1.0


def test_tuning_and_instrument_are_as_asked(player: Interpretation, engine: Engine) -> None:
    """Other sound, at the same moments."""
    sign = player.sign_at("oboe.4.1")
    usual = engine.ornament(player, sign, "before", How())
    for how in (How(tuning=make_tuning(415.0, "vallotti")), How(program=73)):
        other = engine.ornament(player, sign, "before", how)
        assert usual.timeline == other.timeline
        assert usual.wav != other.wav


def test_bars_that_are_not_there_are_refused(player: Interpretation, engine: Engine) -> None:
    """And words that are no way of playing."""
    with pytest.raises(PlaceError):
        engine.bars(player, "99", {}, How())
    with pytest.raises(UsageError):
        engine.ornament(player, player.sign_at("oboe.4.1"), "trill", How())
    with pytest.raises(UsageError, match="minutes are more"):
        engine.bars(player, None, {}, How(tempo="5%"))
