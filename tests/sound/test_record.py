import sys
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from appui.cli.main import cli
from appui.demo import demo_score
from appui.errors import SoundError
from appui.sound.record import level_words, play_and_record, recorder


class PortAudioError(Exception):
    """As the package's own."""


def card(*, there: bool = True, stops_after: int | None = None):
    """A stand-in for the package: what is played is heard at half its level."""

    def check() -> None:
        if not there:
            raise PortAudioError

    def playrec(data, rate, *, channels, dtype, out):
        assert (1, "float32") == (channels, dtype)
        last = len(data) if stops_after is None else stops_after
        out[:last, 0] = data[:last].mean(axis=1) / 2

    def wait() -> None:
        if stops_after is not None:
            raise KeyboardInterrupt

    return SimpleNamespace(
        check_input_settings=check,
        check_output_settings=check,
        playrec=playrec,
        wait=wait,
        stop=lambda: None,
        PortAudioError=PortAudioError,
    )


def test_without_the_package_it_says_how_to_get_it(monkeypatch) -> None:
    """An extra is no fault of the player's."""
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(SoundError, match=r"appui\[record\]"):
        recorder()


def test_without_a_sound_card_it_says_so(monkeypatch) -> None:
    """And what else can be done."""
    monkeypatch.setitem(sys.modules, "sounddevice", card(there=False))
    with pytest.raises(SoundError, match="there is none that can play and record"):
        recorder()


def test_what_is_played_meanwhile_is_recorded() -> None:
    """From the first sample of the track on."""
    track = np.full((1000, 2), 0.5, np.float32)
    take = play_and_record(card(), track, 1000)
    assert 1000 == len(take)
    assert 0.25 == pytest.approx(take[0])


def test_stopping_keeps_what_is_there() -> None:
    """Ctrl-C ends a take, it does not lose it."""
    assert 300 == len(play_and_record(card(stops_after=300), np.full((1000, 2), 0.5, np.float32), 1000))


@pytest.mark.parametrize(("level", "word"), [(0.0, "hardly"), (0.3, ""), (1.0, "overdriven")])
def test_a_wrong_level_is_told(level, word) -> None:
    """Too soft, right, too loud."""
    said = level_words(np.full(10, level, np.float32))
    assert word in said
    assert bool(word) == bool(said)


def test_a_take_is_recorded_over_a_track_from_the_command_line(monkeypatch, tmp_path) -> None:
    """The take and its track lie side by side, and the next command is printed."""
    monkeypatch.setitem(sys.modules, "sounddevice", card())
    out = tmp_path / "take.flac"
    done = CliRunner().invoke(cli, ["record", str(demo_score()), str(out), "--bars", "1-2", "--tempo", "200%"])
    assert 0 == done.exit_code, done.output
    assert (True, True) == (out.exists(), (tmp_path / "take track.wav").exists())
    assert "--backing" in done.stdout
