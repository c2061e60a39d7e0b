"""A cadenza as it sounds: pitches found in the audio, the others silent meanwhile and in again with the trill."""

import re

import numpy as np
import parselmouth
import pytest
import soundfile
from click.testing import CliRunner

from appui.cli.main import cli
from appui.demo import bare_andante
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.score.repeats import once
from tests.there import there

PLACE = "flute.8.1"


@pytest.fixture(scope="module", name="heard")
def _heard(tmp_path_factory):
    """The Andante with a cadenza: solo and accompaniment apart, and its performance."""
    folder = tmp_path_factory.mktemp("heard")
    plan = folder / "plan.toml"
    words = ["embellish", str(bare_andante()), "--at", PLACE, "--plan-out", str(plan)]
    assert 0 == CliRunner().invoke(cli, words, catch_exceptions=False).exit_code
    sounds = {}
    for mute in ("solo", "accompaniment"):
        file = folder / f"{mute}.wav"
        words = ["render", str(bare_andante()), str(file), "--plan", str(plan), "--mute", mute]
        assert 0 == CliRunner().invoke(cli, words, catch_exceptions=False).exit_code
        sounds[mute], rate = soundfile.read(file)
    interpretation = interpret(bare_andante(), Wishes(plan=plan, shape="shaped", time="shaped"))
    return sounds["accompaniment"], sounds["solo"], rate, play(interpretation, once(interpretation.score.bars))


def test_the_pitches_are_those_of_the_plan(heard):
    """Each note of a tenth of a second or more, in its middle, within 40 cents (Praat's tracker, read)."""
    solo, _, rate, performed = heard
    notes = [n for n in performed.parts[0].notes if n.role == "free" and n.duration_s > 0.1]
    assert len(notes) > 5
    mono = parselmouth.Sound(solo.mean(axis=1), rate)
    tracked = mono.to_pitch_ac(time_step=0.005, pitch_floor=200, pitch_ceiling=1500)
    for note in notes:
        wanted_hz = 440 * 2 ** ((note.key - 69) / 12)
        found_hz = tracked.get_value_at_time(note.onset_s + 0.6 * note.duration_s)
        assert abs(1200 * np.log2(found_hz / wanted_hz)) < 40, (note.pitch.name, found_hz)


def test_the_others_are_silent_meanwhile_and_come_in_with_the_trill(heard):
    """At least 30 dB below their chord just before the end, and loud again a moment after it."""
    _, others, rate, performed = heard
    free = [n for n in performed.parts[0].notes if n.role == "free"]
    end_s = max(n.onset_s + n.duration_s for n in free)
    start_s = min(n.onset_s for n in free)

    def level_db(at_s: float) -> float:
        piece = others[int(at_s * rate) : int((at_s + 0.15) * rate)]
        return float(10 * np.log10(np.mean(piece**2) + 1e-12))

    chord_db = level_db(start_s + 0.5)
    assert level_db(end_s - 0.3) < chord_db - 30
    assert level_db(end_s + 0.2) > chord_db - 12


def test_the_proposal_says_how_long_it_lasts(heard):
    """The seconds told are those that are played, to a tenth."""
    *_, performed = heard
    told = CliRunner().invoke(cli, ["embellish", str(bare_andante()), "--at", PLACE]).stdout
    wanted = float(there(re.search(r"trill on E5, ([\d.]+) s", " ".join(told.split())))[1])
    free = [n for n in performed.parts[0].notes if n.role == "free"]
    trill = min(n.onset_s for n in performed.parts[0].notes if n.role == "trill")
    assert wanted == pytest.approx(trill - min(n.onset_s for n in free), abs=0.1)
