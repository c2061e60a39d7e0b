"""Takes without human timing: some bars of the demo, rendered and heard once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import appui
from appui.demo import demo_score
from appui.listen.frames import RATE
from appui.listen.listen import Report, Wanted, listen_samples
from appui.sound.synth import render_blocks

BARS = "1-10"
Played = Callable[..., np.ndarray]


@pytest.fixture(scope="session")
def piece() -> appui.Piece:
    """The demo's movement, 6/8, for oboe."""
    return appui.open(demo_score())


@pytest.fixture(scope="session")
def played(piece: appui.Piece) -> Played:
    """The solo of some bars rendered, with some readings changed: samples at the rate takes are heard at."""

    def render(readings: dict[str, str] | None = None, bars: str = BARS) -> np.ndarray:
        solo = piece.play(bars=bars, readings=readings).solo().performance
        blocks = render_blocks(solo, sample_rate=RATE, reverb=False)
        return np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)

    return render


@pytest.fixture(scope="session")
def plain_take(played: Played) -> np.ndarray:
    """The bars as decided."""
    return played()


@pytest.fixture(scope="session")
def report(piece: appui.Piece, plain_take: np.ndarray) -> Report:
    """What is heard in the bars as decided."""
    return listen_samples(piece.interpretation, plain_take, "take", Wanted(BARS))


@pytest.fixture(scope="session")
def midi(piece: appui.Piece, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same as a MIDI file."""
    path = tmp_path_factory.mktemp("midi") / "take.mid"
    piece.play(bars=BARS).solo().save(path)
    return path
