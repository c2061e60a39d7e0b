"""Playing live, without a sound card and without waiting: the clock is ours."""

from __future__ import annotations

import pytest

from appui.errors import SoundError
from appui.sound import live
from appui.sound.synth import Event


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
    assert ([60, 61], [1.5]) == ([key for _, key in played.strokes], pytest.approx(played.silenced, abs=0.005))


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


def test_a_card_sounds(four, tmp_path, monkeypatch) -> None:
    """FluidSynth's driver that writes to a file stands in for a card; what is played is in it."""
    monkeypatch.chdir(tmp_path)
    with live.open_card(four, driver="file") as card:
        now = [0.0]
        live.play(four, card, clock=lambda: now[0], wait=lambda s: now.__setitem__(0, now[0] + s))
    assert list(tmp_path.iterdir())
