"""Playing live, without a sound card and without waiting: the clock is ours."""

from __future__ import annotations

import statistics
from dataclasses import replace
from itertools import groupby

import parselmouth
import pytest
import soundfile

from appui.errors import SoundError
from appui.sound import live
from appui.sound.synth import Event
from appui.sound.tuning import make_tuning
from tests.sound.ruler import cents, hz_of
from tests.sound.tone_font import write_tone_font


class Played:
    """Notes what is played and when."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.strokes: list[tuple[float, int]] = []
        self.silenced: list[float] = []

    def play(self, event: Event) -> None:
        """Note a stroke."""
        if event.value and event.what:
            self.strokes.append((self.now_s, event.number))

    def silence(self) -> None:
        """Note the silence."""
        self.silenced.append(self.now_s)

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds

    def run(self, performance, presses: dict[float, str]) -> float:
        """Play with keys pressed at moments."""
        left = sorted(presses.items())

        def key() -> str | None:
            return left.pop(0)[1] if left and left[0][0] <= self.now_s else None

        return live.play(performance, self, key, clock=lambda: self.now_s, wait=self.wait)


@pytest.fixture
def four(part, piece):
    """Four notes, a second apart."""
    return piece(part([(n, 0.5, 60 + n, 90) for n in range(4)]))


def test_notes_come_at_their_moments(four) -> None:
    """Within 3 ms, and at the end all is silent."""
    played = Played()
    assert 1 == played.run(four, {})
    assert [0, 1, 2, 3] == pytest.approx([moment for moment, _ in played.strokes], abs=0.003)
    assert [4.5] == pytest.approx(played.silenced, abs=0.01)


def test_slower_and_faster_keep_the_place(four) -> None:
    """From 1 s at 1/1.1 of the pace, from then on as written."""
    played = Played()
    assert 1 == pytest.approx(played.run(four, {1.5: "-", 2.6: "+"}))
    assert [0, 1, 2.05, 3.1] == pytest.approx([moment for moment, _ in played.strokes], abs=0.005)


def test_again_from_the_beginning(four) -> None:
    """What sounds is cut off, the first note comes at once."""
    played = Played()
    played.run(four, {1.5: "r"})
    assert [60, 61, 60, 61, 62, 63] == [key for _, key in played.strokes]
    assert 1.5 == pytest.approx(played.strokes[2][0], abs=0.005)


def test_stopped(four) -> None:
    """At once, and silent."""
    played = Played()
    played.run(four, {1.5: "q"})
    assert [60, 61] == [key for _, key in played.strokes]
    assert [1.5] == pytest.approx(played.silenced, abs=0.005)


def test_the_pace_has_its_bounds(four) -> None:
    """A quarter at least."""
    presses = {0.01 * n: "-" for n in range(40)}
    assert 0.25 == Played().run(four, presses | {1.0: "q"})


def test_without_a_sound_card_the_remedy_is_said(four, capfd) -> None:
    """One sentence, and nothing of the library's own words."""
    with (
        pytest.raises(SoundError, match=r"sound card: none could be opened\. Remedy: plug one in, or write a file"),
        live.open_card(four, driver="none of this name"),
    ):
        pass
    assert ("", "") == capfd.readouterr()


def _nearest(keys: tuple[int, ...], away_cents: list[float]) -> int:
    return keys[away_cents.index(min(away_cents))]


def test_a_card_sounds(part, piece, tmp_path, monkeypatch) -> None:
    """FluidSynth's driver that writes a file stands in for a card: the right notes are heard in order, at 415.

    In real time. Only their order is asked for: a busy machine may be late.
    """
    monkeypatch.chdir(tmp_path)
    font = write_tone_font(tmp_path / "tone.sf2")
    tuning = make_tuning(415, "vallotti")
    keys = (60, 64, 67, 62)
    notes = replace(piece(part([(0.35 * n, 0.3, key, 100) for n, key in enumerate(keys)], 0)), tuning=tuning)
    with live.open_card(notes, font, driver="file") as card:
        live.play(notes, card)
    (file,) = tmp_path.glob("*.wav")
    sound, rate = soundfile.read(file)
    found = parselmouth.Sound(sound.T, rate).convert_to_mono().to_pitch_ac(time_step=0.01, pitch_floor=150)
    heard = [hz for hz in found.selected_array["frequency"] if hz > 0]
    nearest = [_nearest(keys, [abs(cents(hz, hz_of(tuning, key))) for key in keys]) for hz in heard]
    assert list(keys) == [key for key, _ in groupby(nearest)]
    for key in keys:
        steady = statistics.median(hz for hz, near in zip(heard, nearest, strict=True) if near == key)
        assert 0 == pytest.approx(cents(steady, hz_of(tuning, key)), abs=2)
