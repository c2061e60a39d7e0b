"""Output files by suffix: `.mid` a MIDI file, the audio suffixes audio. All are checked before any is written."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from appui.errors import OutputError, UsageError
from appui.perform.model import Performance

__all__ = ["check_folder", "check_outputs", "save"]

AUDIO = (".wav", ".flac", ".ogg", ".mp3")
MIDI = (".mid", ".midi")


def check_outputs(outputs: Sequence[Path]) -> None:
    """Raises `UsageError` for a suffix that is no output of ours, `OutputError` for a folder that does not exist."""
    for path in outputs:
        if path.suffix.lower() not in (*AUDIO, *MIDI):
            raise UsageError(f"{path} ends in {path.suffix or 'no suffix'}; outputs end in .mid, {', '.join(AUDIO)}")
        check_folder(path)
    if len({os.path.realpath(path) for path in outputs}) < len(outputs):
        raise UsageError("two outputs have the same name")


def check_folder(path: Path) -> None:
    """Raises `OutputError` where the folder of a file to be written does not exist."""
    if not path.parent.is_dir():
        raise OutputError(path, f"its folder {path.parent} does not exist", "make the folder or name another")


def save(performance: Performance, outputs: Sequence[Path], soundfont: Path | None) -> None:
    """Write every output; audio is rendered once for all of them."""
    audio = [path for path in outputs if path.suffix.lower() in AUDIO]
    for path in outputs:
        if path.suffix.lower() in MIDI:
            from appui.sound.midi import write_midi

            write_midi(performance, path)
    if audio:
        _write_audio(performance, audio, soundfont)


def _write_audio(performance: Performance, paths: Sequence[Path], soundfont: Path | None) -> None:
    from appui.scratch import scratch
    from appui.sound.audio import common_gain_db, render_stem, write_stems

    with scratch() as folder:
        stem = render_stem(performance, folder / "stem", soundfont)
        gain_db = common_gain_db([stem.peak], lossy=any(path.suffix.lower() in (".ogg", ".mp3") for path in paths))
        for path in paths:
            write_stems([stem], path, gain_db)
