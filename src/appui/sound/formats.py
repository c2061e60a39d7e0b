"""Audio files on the disk: WAV, FLAC, OGG (Vorbis) and MP3 by suffix.

WAV and FLAC hold the same 24-bit samples. WAV is packed in `wav`, three times as fast as by libsndfile. The others are
written by libsndfile, in small pieces, since its Vorbis coder fails on large ones. The same samples give the same
bytes: for OGG `settle_serial` sees to it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.errors import OutputError, SoundError
from appui.sound.ogg import settle_serial
from appui.sound.wav import wav_file, whole_numbers

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["FORMATS", "LOSSY", "TAGS", "check_suffix", "sound_file", "wave_bytes"]

#   suffix: format, subtype; None is packed here
FORMATS: dict[str, tuple[str, str] | None] = {
    ".wav": None,
    ".flac": ("FLAC", "PCM_24"),
    ".ogg": ("OGG", "VORBIS"),
    ".mp3": ("MP3", "MPEG_LAYER_III"),
}
TAGS = ("title", "artist", "album", "comment", "tracknumber")
LOSSY = frozenset({".ogg", ".mp3"})
PIECE = 4096

Put = Callable[["NDArray[np.float32]"], None]


def check_suffix(path: Path) -> None:
    """Raises `SoundError` for a file whose suffix is no audio format of ours."""
    if path.suffix.lower() not in FORMATS:
        raise SoundError(
            path,
            f"{path.suffix or 'no suffix'} is no audio format known here",
            f"end the name in one of {', '.join(FORMATS)}",
        )


@contextmanager
def sound_file(
    temporary: Path, path: Path, rate: int, frames: int, tags: Mapping[str, str] | None = None
) -> Iterator[Put]:
    """Open a stereo file of so many frames; gives the function that writes blocks of samples, full scale 1.0.

    `path` is the place the file is for: it names the format and stands in the errors, `SoundError` where the format
    cannot hold it, `OutputError` where the disk does not take it. `tags` are those of `TAGS`.
    """
    check_suffix(path)
    form = FORMATS[path.suffix.lower()]
    if form is None:
        with wav_file(temporary, path, rate, frames, tags) as wav:
            yield wav
        return
    with _coded(temporary, path, rate, frames, form, tags) as put:
        yield put
    if path.suffix.lower() == ".ogg":
        settle_serial(temporary)


@contextmanager
def _coded(
    temporary: Path, path: Path, rate: int, frames: int, form: tuple[str, str], tags: Mapping[str, str] | None
) -> Iterator[Put]:
    import soundfile

    kind, subtype = form
    if kind not in soundfile.available_formats():
        raise SoundError(path, f"this installation's libsndfile writes no {kind}", "name a .wav or .flac file")
    try:
        with soundfile.SoundFile(temporary, "w", rate, 2, subtype, format=kind) as out:
            for name, text in (tags or {}).items():
                setattr(out, name, text)
            yield lambda block: _pieces(out, block, lossy=path.suffix.lower() in LOSSY)
        # what a coder still holds is written on closing, where libsndfile does not say that the disk is full
        written = soundfile.info(temporary).frames
    except soundfile.LibsndfileError as error:
        raise OutputError(path, f"cannot be written ({error})", "free space there, or name another place") from None
    if written != frames:
        raise OutputError(path, f"was cut short: {written} of {frames} frames written", "free space there")


def _pieces(out: Any, block: NDArray[np.float32], *, lossy: bool) -> None:
    for start in range(0, len(block), PIECE):
        piece = block[start : start + PIECE]
        out.write(piece if lossy else whole_numbers(piece) << 8)


def wave_bytes(sound: NDArray[np.float32], rate: int) -> bytes:
    """Samples, shape (frames,) or (frames, channels), as a WAV file of 16 bit in memory: 44 bytes of head, no tags."""
    import soundfile

    stream = BytesIO()
    soundfile.write(stream, sound, rate, format="WAV", subtype="PCM_16")
    return stream.getvalue()
