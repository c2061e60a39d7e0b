"""Recording from the sound card while a track plays, so that the take begins with the track.

The package sounddevice does it (PortAudio; an extra, since most installations have no use for it). What was recorded
when the player stops with Ctrl-C is kept.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from appui.errors import SoundError
from appui.sound.files import whole_file
from appui.sound.formats import sound_file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

__all__ = ["FULL_DBFS", "QUIET_DBFS", "level_words", "play_and_record", "recorder", "samples_of", "write_take"]

#  what a microphone that is switched on brings at least, and where it is too near
QUIET_DBFS, FULL_DBFS = -60.0, -0.3
_INSTALL = "install the extra: pip install 'appui[record]'"
_PLUG = "plug a microphone in and try again, or record with any other program and give the file to `appui listen`"


def recorder() -> Any:
    """The package that records; raises `SoundError` where it is not installed, or finds no sound card."""
    try:
        import sounddevice
    except ImportError:
        raise SoundError("recording", "the package sounddevice is not installed", _INSTALL) from None
    except OSError:
        remedy = "install it: Debian `apt install libportaudio2`"
        raise SoundError("recording", "the library PortAudio is not installed", remedy) from None
    try:
        sounddevice.check_input_settings()
        sounddevice.check_output_settings()
    except (sounddevice.PortAudioError, ValueError):
        raise SoundError("sound card", "there is none that can play and record", _PLUG) from None
    return sounddevice


def play_and_record(device: Any, track: Samples, rate: int, more_s: float = 1.0) -> Samples:
    """Play a track, shape (frames, 2), and record one channel meanwhile and `more_s` after it.

    `device` is what `recorder` gives. Raises `SoundError` where the card fails on the way.
    """
    import numpy as np

    silence = np.zeros((round(more_s * rate), track.shape[1]), np.float32)
    take = np.zeros((len(track) + len(silence), 1), np.float32)
    try:
        device.playrec(np.concatenate([track, silence]), rate, channels=1, dtype="float32", out=take)
        device.wait()
    except KeyboardInterrupt:
        device.stop()
    except device.PortAudioError as error:
        raise SoundError("sound card", f"failed while recording ({error})", _PLUG) from None
    heard = np.flatnonzero(take)
    return np.asarray(take[: int(heard[-1]) + 1 if len(heard) else 0, 0])


def samples_of(track: Path) -> tuple[Samples, int]:
    """The samples of a track, shape (frames, channels), and their rate."""
    import soundfile

    samples, rate = soundfile.read(track, dtype="float32", always_2d=True)
    return samples, rate


def write_take(path: Path, take: Samples, rate: int) -> None:
    """Write what one microphone recorded as a file of two like channels; raises `OutputError`."""
    import numpy as np

    with whole_file(path) as temporary, sound_file(temporary, path, rate, len(take)) as put:
        put(np.stack([take, take], axis=1))


def level_words(take: Samples) -> str:
    """What to change about the level, empty where it is right."""
    import numpy as np

    peak = float(np.abs(take).max(initial=0.0))
    if peak < 10 ** (QUIET_DBFS / 20):
        return "hardly anything was recorded: is the microphone on, and is it the one the system records from?"
    if peak > 10 ** (FULL_DBFS / 20):
        return "the microphone was overdriven: turn it down or step back, or weights cannot be told"
    return ""
