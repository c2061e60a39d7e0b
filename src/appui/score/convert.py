"""Other notations (Humdrum, ABC, MEI) through music21 to MusicXML text, then read like any other score.

music21 keeps plain notes, ties, slurs, keys and most ornaments; it writes slashed and unslashed small notes alike and
drops playback attributes, so a MusicXML original is always the better source.
"""

from __future__ import annotations

import warnings
from pathlib import Path

from appui.errors import ScoreError

__all__ = ["to_musicxml"]


def to_musicxml(path: Path, name: str) -> bytes:
    """The MusicXML text of a score in another notation; raises `ScoreError` where music21 cannot read it."""
    from music21 import converter, stream
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    # a foreign parser on foreign text: music21 raises its own exceptions and whatever its parsing trips over
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = converter.parse(path, forceSource=True)
            pieces = len(found.scores) if isinstance(found, stream.Opus) else 1
            text = bytes(GeneralObjectExporter(found).parse()) if pieces == 1 else b""
    except Exception as error:  # noqa: BLE001
        reason = str(error).split("\n")[0][:200] or type(error).__name__
        raise ScoreError(name, f"cannot be read as {path.suffix} ({reason})", "export it as MusicXML") from None
    if pieces != 1:
        raise ScoreError(name, f"holds {pieces} pieces", "save the one you want in a file of its own")
    return text
