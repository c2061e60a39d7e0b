"""FluidSynth, offline: a performance in, blocks of stereo samples out, memory flat at any length.

Conventions: float32, shape (frames, 2), full scale 1.0, before any gain of ours. Events fall on FluidSynth's 64-frame blocks (1.45 ms at
44.1 kHz). The synthesizer's own gain is fixed at 0.5: what is louder than full scale is brought down later, in float, without clipping.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.errors import SoundError
from appui.perform.model import Performance, PerformedPart

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["RATE", "TAIL_S", "render_blocks"]

RATE = 44_100
GAIN = 0.5
TAIL_S = 1.5
BLOCK = 64
#  frames handed out at a time: big enough to be fast, small enough to stay flat
CHUNK = 1 << 15
_INSTALL = "install it: Debian `apt install libfluidsynth3`, Homebrew `brew install fluid-synth`"
_Event = tuple[int, int, int, int, int, int]  # frame, order, channel, what, key or number, velocity or value
_ON, _OFF, _CONTROL = 2, 0, 1


class _Synth:
    """The library's synthesizer, with what pyfluidsynth leaves out declared here."""

    def __init__(self, soundfont: Path, channels: int, *, rate: int, reverb: bool) -> None:
        try:
            import fluidsynth
        except (ImportError, OSError):
            raise SoundError("audio", "FluidSynth's library is not installed", _INSTALL) from None
        self.lib: Any = fluidsynth
        _quiet(fluidsynth)
        self._write = _writer(fluidsynth)
        settings = fluidsynth.new_fluid_settings()
        for name, value in (("synth.gain", GAIN), ("synth.sample-rate", float(rate))):
            fluidsynth.fluid_settings_setnum(settings, name.encode(), value)
        for name, number in (("synth.midi-channels", max(16, -(-channels // 16) * 16)), ("synth.reverb.active", int(reverb)),
                             ("synth.chorus.active", 0), ("synth.cpu-cores", 1), ("synth.polyphony", 256)):
            fluidsynth.fluid_settings_setint(settings, name.encode(), number)
        self.settings, self.synth = settings, fluidsynth.new_fluid_synth(settings)
        self.font = fluidsynth.fluid_synth_sfload(self.synth, str(soundfont).encode(), 1)
        if self.font < 0:
            self.close()
            raise SoundError(soundfont, "FluidSynth cannot load this SoundFont", "get it again, or name another with --soundfont")

    def select(self, channel: int, part: PerformedPart) -> None:
        bank = 128 if part.percussion else 0
        self.lib.fluid_synth_bank_select(self.synth, channel, bank)
        self.lib.fluid_synth_program_change(self.synth, channel, part.program)
        self.lib.fluid_synth_cc(self.synth, channel, 7, part.volume)
        self.lib.fluid_synth_cc(self.synth, channel, 10, part.pan)

    def play(self, event: _Event) -> None:
        _, _, channel, what, first, second = event
        if what == _ON:
            self.lib.fluid_synth_noteon(self.synth, channel, first, second)
        elif what == _OFF:
            self.lib.fluid_synth_noteoff(self.synth, channel, first)
        else:
            self.lib.fluid_synth_cc(self.synth, channel, first, second)

    def write(self, buffer: NDArray[np.float32], start: int, frames: int) -> None:
        address = buffer.ctypes.data
        self._write(self.synth, frames, address, 2 * start, 2, address, 2 * start + 1, 2)

    def close(self) -> None:
        self.lib.delete_fluid_synth(self.synth)
        self.lib.delete_fluid_settings(self.settings)


def _writer(fluidsynth: Any) -> Any:
    one = 1
    return fluidsynth.cfunc(
        "fluid_synth_write_float", ctypes.c_int, ("synth", ctypes.c_void_p, one), ("len", ctypes.c_int, one), ("lout", ctypes.c_void_p, one),
        ("loff", ctypes.c_int, one), ("lincr", ctypes.c_int, one), ("rout", ctypes.c_void_p, one), ("roff", ctypes.c_int, one),
        ("rincr", ctypes.c_int, one))


def _quiet(fluidsynth: Any) -> None:
    """FluidSynth talks to stderr by itself; what matters is said by our own errors."""
    set_log = fluidsynth.cfunc(
        "fluid_set_log_function", ctypes.c_void_p, ("level", ctypes.c_int, 1), ("fun", ctypes.c_void_p, 1), ("data", ctypes.c_void_p, 1))
    if set_log is not None:
        for level in range(5):
            set_log(level, None, None)


def render_blocks(
    performance: Performance, soundfont: Path, *, rate: int = RATE, reverb: bool = True, tail_s: float = TAIL_S,
) -> Iterator[NDArray[np.float32]]:
    """The performance as blocks of samples; raises `SoundError` without FluidSynth or with a SoundFont it cannot load."""
    import numpy as np

    synth = _Synth(soundfont, len(performance.parts), rate=rate, reverb=reverb)
    try:
        for channel, part in enumerate(_channels(performance)):
            if part is not None:
                synth.select(channel, part)
        total = round((performance.length_s + tail_s) * rate)
        buffer = np.zeros((CHUNK, 2), np.float32)
        filled = at = 0
        for frame, events in _grouped(performance, rate, total):
            while at < frame:
                frames = min(frame - at, CHUNK - filled)
                synth.write(buffer, filled, frames)
                filled, at = filled + frames, at + frames
                if filled == CHUNK:
                    yield buffer.copy()
                    filled = 0
            for event in events:
                synth.play(event)
        if filled:
            yield buffer[:filled].copy()
    finally:
        synth.close()


def _channels(performance: Performance) -> list[PerformedPart | None]:
    """Parts by FluidSynth channel; channel 10 of each sixteen is left to percussion."""
    channels: list[PerformedPart | None] = []
    for part in performance.parts:
        while (len(channels) % 16 == 9) != part.percussion:
            channels.append(None)
        channels.append(part)
    return channels


def _grouped(performance: Performance, rate: int, total: int) -> Iterator[tuple[int, list[_Event]]]:
    group: list[_Event] = []
    for event in sorted(_events(performance, rate)):
        if group and event[0] != group[0][0]:
            yield group[0][0], group
            group = []
        group.append(event)
    if group:
        yield group[0][0], group
    yield total, []


def _events(performance: Performance, rate: int) -> Iterator[_Event]:
    for channel, part in enumerate(_channels(performance)):
        if part is None:
            continue
        for control in part.controls:
            yield _frame(control.onset_s, rate), _CONTROL, channel, _CONTROL, control.number, control.value
        for note in part.notes:
            start = _frame(note.onset_s, rate)
            stop = max(_frame(note.onset_s + note.duration_s, rate), start + BLOCK)
            yield start, _ON, channel, _ON, note.key, note.velocity
            yield stop, _OFF, channel, _OFF, note.key, 0


def _frame(moment_s: float, rate: int) -> int:
    """The nearest block boundary: FluidSynth acts there anyway, and whole blocks are its fast path."""
    return round(moment_s * rate / BLOCK) * BLOCK
