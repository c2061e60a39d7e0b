"""Which SoundFont plays, and whether it is one.

The default is the small General MIDI SoundFont inside the pretty_midi package, found without importing it. `APPUI_SOUNDFONT` or the option
``--soundfont`` names another. The file is looked at before the synthesizer sees it: RIFF, form ``sfbk``, sizes that fit.
"""

from __future__ import annotations

import os
import struct
from importlib.util import find_spec
from pathlib import Path

from appui.errors import SoundError

__all__ = ["VARIABLE", "default_soundfont", "soundfont_path"]

VARIABLE = "APPUI_SOUNDFONT"
_REMEDY = "name a .sf2 file; soundfonts_readme/README.md says where to get one"


def default_soundfont() -> Path:
    """The SoundFont that comes with the installation; raises `SoundError` where it is missing."""
    spec = find_spec("pretty_midi")
    folder = Path(spec.origin).parent if spec is not None and spec.origin else None
    found = sorted(folder.glob("*.sf2")) if folder else []
    if not found:
        raise SoundError("pretty_midi", "holds no SoundFont", "install pretty_midi, or name a SoundFont with --soundfont")
    return found[0]


def soundfont_path(wanted: Path | str | None = None) -> Path:
    """The SoundFont to use: the one named, else the environment's, else the default. Raises `SoundError` where it is none."""
    named = wanted or os.environ.get(VARIABLE)
    path = Path(named) if named else default_soundfont()
    _check(path)
    return path


def _check(path: Path) -> None:
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(20)
    except OSError as error:
        raise SoundError(path, f"the SoundFont cannot be read ({error.strerror or error})", _REMEDY) from None
    if len(head) < 20 or head[:4] != b"RIFF" or head[8:12] != b"sfbk":
        raise SoundError(path, "is no SoundFont", _REMEDY)
    claimed: int = struct.unpack("<I", head[4:8])[0] + 8
    if claimed > size:
        raise SoundError(path, f"is a SoundFont cut short: {size} of {claimed} bytes", "get it again, whole")
