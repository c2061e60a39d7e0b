"""Other notations (Humdrum, ABC, MEI) through music21 to MusicXML text, then read like any other score.

music21 keeps plain notes, ties, slurs, keys and most ornaments; it writes slashed and unslashed small notes alike and
drops playback attributes, so a MusicXML original is always the better source.

A malformed file can send a foreign parser into an endless loop, so it runs in a process of its own, with limits on
time and memory (memory where the system has such limits: not on Windows).
"""

from __future__ import annotations

import subprocess
import sys
import warnings
from pathlib import Path

from appui.errors import ScoreError

__all__ = ["to_musicxml"]

LIMIT_S = 120
LIMIT_BYTES = 2 * 1024**3
_SEVERAL, _FAILED = 3, 4


def to_musicxml(path: Path, name: str) -> bytes:
    """The MusicXML text of a score in another notation; raises `ScoreError` where music21 cannot read it."""
    command = [sys.executable, "-m", "appui.musicxml.read.convert", str(path.absolute())]
    try:
        done = subprocess.run(command, capture_output=True, timeout=LIMIT_S, check=False)  # noqa: S603 - our own module
    except subprocess.TimeoutExpired:
        raise ScoreError(
            name, f"took longer than {LIMIT_S} s to read as {path.suffix}", "check the file, or export it as MusicXML"
        ) from None
    words = done.stderr.decode("utf-8", "replace").strip()
    if done.returncode == _SEVERAL:
        raise ScoreError(name, f"holds {words} pieces", "save the one you want in a file of its own")
    if done.returncode != 0:
        reason = words.split("\n")[-1][:200] or "the parser gave up"
        raise ScoreError(name, f"cannot be read as {path.suffix} ({reason})", "export it as MusicXML")
    return done.stdout


def _limit() -> None:
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (LIMIT_BYTES, LIMIT_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S))


def _convert(path: Path) -> tuple[int, bytes, str]:
    """What the process gives back: exit status, MusicXML, words."""
    from music21 import converter, stream
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    # a foreign parser on foreign text: music21 raises its own exceptions and whatever its parsing trips over
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = converter.parse(path, forceSource=True)
            pieces = len(found.scores) if isinstance(found, stream.Opus) else 1
            if pieces != 1:
                return _SEVERAL, b"", str(pieces)
            return 0, bytes(GeneralObjectExporter(found).parse()), ""
    except Exception as error:  # noqa: BLE001
        return _FAILED, b"", str(error).split("\n")[0] or type(error).__name__


if __name__ == "__main__":
    _limit()
    status, text, said = _convert(Path(sys.argv[1]))
    sys.stdout.buffer.write(text)
    sys.stderr.write(said)
    sys.exit(status)
