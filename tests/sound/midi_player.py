"""FluidSynth's own MIDI player, rendering a MIDI file into an audio file: what another program hears in ours.

Only the library's player and synthesizer take part; nothing of `appui.sound` does.
"""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import TYPE_CHECKING

import fluidsynth
import soundfile

if TYPE_CHECKING:
    import numpy as np

__all__ = ["play_file"]

_PLAYING = 1


def _function(name: str, result: object, *kinds: object):
    return fluidsynth.cfunc(name, result, *((f"a{n}", kind, 1) for n, kind in enumerate(kinds)))


def play_file(midi: Path, soundfont: Path, wav: Path) -> np.ndarray:
    """Play it to its end without reverb at 44.1 kHz; returns the left channel."""
    pointer, text, number = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int
    new_player = _function("new_fluid_player", pointer, pointer)
    add = _function("fluid_player_add", number, pointer, text)
    start = _function("fluid_player_play", number, pointer)
    status = _function("fluid_player_get_status", number, pointer)
    delete_player = _function("delete_fluid_player", None, pointer)
    new_renderer = _function("new_fluid_file_renderer", pointer, pointer)
    process = _function("fluid_file_renderer_process_block", number, pointer)
    delete_renderer = _function("delete_fluid_file_renderer", None, pointer)
    settings = fluidsynth.new_fluid_settings()
    words = {"audio.file.name": str(wav), "audio.file.type": "wav", "player.timing-source": "sample"}
    for name, word in words.items():
        fluidsynth.fluid_settings_setstr(settings, name.encode(), word.encode())
    for name in ("synth.reverb.active", "synth.chorus.active", "synth.lock-memory"):
        fluidsynth.fluid_settings_setint(settings, name.encode(), 0)
    synth = fluidsynth.new_fluid_synth(settings)
    assert fluidsynth.fluid_synth_sfload(synth, str(soundfont).encode(), 1) >= 0
    player, renderer = new_player(synth), new_renderer(synth)
    assert add(player, str(midi).encode()) == 0
    start(player)
    while status(player) == _PLAYING:
        assert process(renderer) == 0
    delete_renderer(renderer)
    delete_player(player)
    fluidsynth.delete_fluid_synth(synth)
    fluidsynth.delete_fluid_settings(settings)
    left: np.ndarray = soundfile.read(wav)[0][:, 0]
    return left
