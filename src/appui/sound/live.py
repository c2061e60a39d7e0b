"""A performance played through the sound card, with keys to stop it, begin again, go slower or faster.

FluidSynth's own driver sounds; this module only says what happens when. Going slower or faster keeps the place: what
is still to come is stretched. The clock and the wait are given from outside, so that a test needs no card and no time.
"""

from __future__ import annotations

import ctypes
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from appui.errors import SoundError
from appui.perform.model import Performance
from appui.sound.soundfont import soundfont_path
from appui.sound.synth import CHANGE, RATE, Event, Synth, declare, events_of, hushed

__all__ = ["KEYS", "PACES", "Sink", "open_card", "play"]

#  key: what it does
KEYS = {"q": "stop", "r": "again from the beginning", "-": "slower", "+": "faster"}
PACES = (0.25, 4.0)
STEP = 1.1
TICK_S = 0.002
RING_S = 1.0
EXPRESSION, FULL = 11, 127
_SOUNDS_OFF = ("fluid_synth_all_sounds_off", ctypes.c_int, "synth:p channel:i")


class Sink(Protocol):
    """What sounds: a synthesizer."""

    def play(self, event: Event) -> None:
        """Act now."""

    def silence(self) -> None:
        """Nothing sounds any more."""


class _Card:
    """A synthesizer with an open driver."""

    def __init__(self, synth: Synth, channels: int) -> None:
        self.synth, self.channels = synth, channels
        self._off = declare(synth.lib, *_SOUNDS_OFF)

    def play(self, event: Event) -> None:
        self.synth.play(event)

    def silence(self) -> None:
        self._off(self.synth.synth, -1)
        # a swell that was cut off would leave what comes next soft
        for channel in range(self.channels):
            self.synth.play(Event(0, CHANGE, channel, EXPRESSION, FULL))


@contextmanager
def open_card(
    performance: Performance, soundfont: Path | str | None = None, *, driver: str | None = None
) -> Iterator[Sink]:
    """A synthesizer on the sound card, its channels set up for the parts; `driver` a name FluidSynth knows.

    Raises `SoundError` where there is no sound card it can open.
    """
    synth = Synth(soundfont_path(soundfont), len(performance.parts), rate=RATE, reverb=True)
    opened = None
    try:
        if driver is not None:
            synth.lib.fluid_settings_setstr(synth.settings, b"audio.driver", driver.encode())
        with hushed():
            opened = synth.lib.new_fluid_audio_driver(synth.settings, synth.synth)
        if not opened:
            raise SoundError(
                "sound card", "none could be opened", "plug one in, or write a file with `appui practice SCORE out.wav`"
            )
        synth.set_up(performance)
        yield _Card(synth, len(performance.parts))
    finally:
        if opened:
            synth.lib.delete_fluid_audio_driver(opened)
        synth.close()


def play(
    performance: Performance,
    sink: Sink,
    key: Callable[[], str | None] = lambda: None,
    *,
    clock: Callable[[], float] = time.monotonic,
    wait: Callable[[float], None] = time.sleep,
    say: Callable[[str], None] = lambda words: None,
) -> float:
    """Play to the end or until it is stopped; returns the pace at the end, 1 as written.

    `key` gives a key of `KEYS` that was pressed since it was last asked, or `None`.
    """
    events = sorted(events_of(performance, RATE))
    at, place_s, pace, before_s = 0, 0.0, 1.0, clock()
    while place_s < performance.length_s + RING_S:
        now_s = clock()
        place_s, before_s = place_s + (now_s - before_s) * pace, now_s
        while at < len(events) and events[at].frame <= place_s * RATE:
            sink.play(events[at])
            at += 1
        pressed = key()
        if pressed == "q":
            break
        if pressed == "r":
            sink.silence()
            at, place_s = 0, 0.0
        elif pressed in ("-", "+"):
            pace = min(max(pace * (STEP if pressed == "+" else 1 / STEP), PACES[0]), PACES[1])
            say(f"{pace:.0%}")
        wait(TICK_S)
    sink.silence()
    return pace
