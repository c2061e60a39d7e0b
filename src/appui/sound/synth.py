"""FluidSynth, offline: a performance in, blocks of stereo samples out, memory flat at any length.

Conventions: float32, shape (frames, 2), full scale 1.0, before any gain of ours. Events fall on FluidSynth's 64-frame
blocks, so within 0.73 ms of their moment at 44.1 kHz. The synthesizer's own gain is fixed at 0.5: what is louder than
full scale is brought down later, in float, without clipping. Every part has a channel of its own.

Reverb is FluidSynth's own small room unless switched off; chorus is off, since it smears what is to
be heard. After the last note-off the sound rings on until it is 60 dB below the loudest moment, at least 1 s and at
most 4 s, and its last tenth of a second fades to nothing.
"""

from __future__ import annotations

import ctypes
import io
import os
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, redirect_stdout
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from appui.cache import code_key, folder, key_of
from appui.errors import SoundError
from appui.perform.model import Performance, PerformedNote, PerformedPart, Tuning
from appui.sound.intonation import measured_cents
from appui.sound.soundfont import soundfont_path
from appui.sound.strokes import Stroke, single_strokes
from appui.sound.tuning import shift_cents

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "CHANGE",
    "CHUNK",
    "LONGEST_S",
    "RATE",
    "RATES",
    "TAIL_S",
    "Event",
    "Font",
    "Synth",
    "check_length",
    "controls_of",
    "declare",
    "events_of",
    "frame_of",
    "hushed",
    "open_synth",
    "render_blocks",
    "sounded",
    "stem_key",
    "strokes_of",
    "struck",
]

RATE = 44_100
LONGEST_S = 8 * 3600  # an opera at half its tempo; ten gigabytes of samples on the way
RATES = (8_000, 96_000)  # what FluidSynth allows, Hz
GAIN = 0.5
TAIL_S = (1.0, 4.0)
QUIET = 10 ** (-60 / 20)
BLOCK = 64
#  FluidSynth sounds the whole cent below what it is told (measured); with half a cent more, the nearest
ROUNDING_CENTS = 0.5
#  frames handed out at a time: big enough to be fast, small enough to stay flat
CHUNK = 1 << 15
TAIL_CHUNK = 1 << 12
_MELODIC, _DRUMS = 0, 1
#  generators of SoundFont 2.04, 8.1.2 (memory), and what drives them to their end whatever a sample brings, in 0.1 %
_REVERB_SEND, _CHORUS_SEND, _PAN_GENERATOR, _END = 16, 15, 17, 1000.0
_ALONE = threading.Lock()
_INSTALL = "install it: Debian `apt install libfluidsynth3`, Homebrew `brew install fluid-synth`"

#  what pyfluidsynth leaves out: name, result, arguments
_INT, _POINTER = ctypes.c_int, ctypes.c_void_p
_SET_LOG = ("fluid_set_log_function", _POINTER, "level:i function:p data:p")
_KEY_TUNING = ("fluid_synth_activate_key_tuning", _INT, "synth:p bank:i prog:i name:p pitch:p apply:i")
_ACTIVATE = ("fluid_synth_activate_tuning", _INT, "synth:p channel:i bank:i prog:i apply:i")
_SET_GENERATOR = ("fluid_synth_set_gen", _INT, "synth:p channel:i generator:i value:f")
_SET_TYPE = ("fluid_synth_set_channel_type", _INT, "synth:p channel:i type:i")
_ADD_FONT = ("fluid_synth_add_sfont", _INT, "synth:p font:p")
_REMOVE_FONT = ("fluid_synth_remove_sfont", _INT, "synth:p font:p")
_FONT_BY_NUMBER = ("fluid_synth_get_sfont_by_id", _POINTER, "synth:p number:i")
_WRITE = ("fluid_synth_write_float", _INT, "synth:p len:i lout:p loff:i lincr:i rout:p roff:i rincr:i")


class Event(NamedTuple):
    """What happens at a frame; at one frame in the order note-off, control, note-on."""

    frame: int
    what: int
    channel: int
    number: int  # key or controller
    value: int  # velocity or value


_OFF, CHANGE, _ON = range(3)


class Synth:
    """The library's synthesizer with one SoundFont; raises `SoundError` without the library or the SoundFont."""

    def __init__(self, soundfont: Path | Font, channels: int, *, rate: int, reverb: bool) -> None:
        self.rate, self.path = rate, soundfont.path if isinstance(soundfont, Font) else soundfont
        self.lib, self._shared = _library(), soundfont if isinstance(soundfont, Font) else None
        self._write, self._set_type = declare(self.lib, *_WRITE), declare(self.lib, *_SET_TYPE)
        self.settings = self.lib.new_fluid_settings()
        for name, gain in (("synth.gain", GAIN), ("synth.sample-rate", float(rate))):
            self.lib.fluid_settings_setnum(self.settings, name.encode(), gain)
        for name, number in {
            "synth.midi-channels": max(16, -(-channels // 16) * 16),
            "synth.reverb.active": int(reverb),
            "synth.chorus.active": 0,
            "synth.cpu-cores": 1,
            "synth.polyphony": 256,
            # only the programs in use are read: a large SoundFont costs no more time and memory than a small one
            "synth.dynamic-sample-loading": 1,
        }.items():
            self.lib.fluid_settings_setint(self.settings, name.encode(), number)
        # the first one sets the library up for all, and a second one would not wait for it: it would lack modulators
        with _ALONE:
            self.synth = self.lib.new_fluid_synth(self.settings)
        self.font = self._take(soundfont)

    def _take(self, soundfont: Path | Font) -> int:
        """The number FluidSynth gives to the SoundFont."""
        if isinstance(soundfont, Font):
            return int(declare(self.lib, *_ADD_FONT)(self.synth, soundfont.pointer))
        with hushed():
            font = self.lib.fluid_synth_sfload(self.synth, str(soundfont).encode(), 1)
        if font < 0:
            self.close()
            raise SoundError(
                soundfont, "FluidSynth cannot load this SoundFont", "get it again, or name another with --soundfont"
            )
        return int(font)

    def set_up(self, performance: Performance) -> None:
        """Set a channel up for every part, and tune those that have pitches, each as true as its samples allow."""
        for channel, part in enumerate(performance.parts):
            self.seat(channel, part)
            off = {} if performance.raw_samples else measured_cents(self.path, part.program)
            if not part.percussion and (off or performance.tuning is not None):
                self.tune(performance.tuning, channel, off)

    def seat(self, channel: int, part: PerformedPart) -> None:
        """Set a channel up for a part."""
        self._set_type(self.synth, channel, _DRUMS if part.percussion else _MELODIC)
        self.lib.fluid_synth_program_change(self.synth, channel, part.program)
        self.lib.fluid_synth_cc(self.synth, channel, 7, part.volume)
        self.lib.fluid_synth_cc(self.synth, channel, 10, part.pan)
        if part.apart:
            self._to_one_side(channel, left=not part.pan)

    def _to_one_side(self, channel: int, *, left: bool) -> None:
        """Hard to a side: halves of stereo samples stand on both, and the room answers on both."""
        turn = declare(self.lib, *_SET_GENERATOR)
        turn(self.synth, channel, _PAN_GENERATOR, -_END if left else _END)
        for send in (_REVERB_SEND, _CHORUS_SEND):
            turn(self.synth, channel, send, -_END)

    def tune(self, tuning: Tuning | None, channel: int, off: Mapping[int, float]) -> None:
        """Tune a channel key by key: through the MIDI messages FluidSynth rounds twice, and only sixteen hear them.

        `off` is how many cents too high the samples of each key are.
        """
        shift = ROUNDING_CENTS + (shift_cents(tuning.a4_hz) if tuning is not None else 0.0)
        offsets = tuning.offsets_cents if tuning is not None else (0.0,) * 12
        cents = [_corrected(100 * key + offsets[key % 12] + shift, off) for key in range(128)]
        pitches = ctypes.cast((ctypes.c_double * 128)(*cents), _POINTER)
        bank, number = divmod(channel, 128)
        declare(self.lib, *_KEY_TUNING)(self.synth, bank, number, b"", pitches, 0)
        declare(self.lib, *_ACTIVATE)(self.synth, channel, bank, number, 0)

    def play(self, event: Event) -> None:
        """Act now."""
        if event.what == _ON:
            self.lib.fluid_synth_noteon(self.synth, event.channel, event.number, event.value)
        elif event.what == _OFF:
            self.lib.fluid_synth_noteoff(self.synth, event.channel, event.number)
        else:
            self.lib.fluid_synth_cc(self.synth, event.channel, event.number, event.value)

    def fill(self, buffer: NDArray[np.float32], start: int, frames: int) -> None:
        """Sound the next frames into a buffer, from its frame `start`."""
        address = buffer.ctypes.data
        self._write(self.synth, frames, address, 2 * start, 2, address, 2 * start + 1, 2)

    def close(self) -> None:
        """Give the library's memory back."""
        if self._shared is not None:
            # else it would go with the synthesizer
            declare(self.lib, *_REMOVE_FONT)(self.synth, self._shared.pointer)
        self.lib.delete_fluid_synth(self.synth)
        self.lib.delete_fluid_settings(self.settings)


def _corrected(cents: float, off: Mapping[int, float]) -> float:
    """A pitch, in cents above key 0, less what the sample that will play it is off.

    FluidSynth takes the sample of the key that is nearest to the tuned pitch, not of the key that is struck.
    """
    nearest = int(cents / 100 + 0.5)
    for key in (nearest, nearest - 1, nearest + 1):
        tuned = cents - off.get(key, 0.0)
        if int(tuned / 100 + 0.5) == key:
            return tuned
    return cents - off.get(nearest, 0.0)


class Font:
    """A SoundFont read once for several synthesizers, one after another: never for two at a time.

    What they sound is the same as with a SoundFont of their own. Raises the errors of `Synth`.
    """

    def __init__(self, soundfont: Path | str | None = None) -> None:
        self.path = soundfont_path(soundfont)
        self._owner = Synth(self.path, 16, rate=RATE, reverb=False)
        self.pointer = declare(self._owner.lib, *_FONT_BY_NUMBER)(self._owner.synth, self._owner.font)

    def close(self) -> None:
        """Give the library's memory back; no synthesizer may have it any more."""
        self._owner.close()


@contextmanager
def hushed() -> Iterator[None]:
    """Standard error closed for a moment: a library under FluidSynth complains there of a bad SoundFont.

    Standard error belongs to all threads, so one at a time.
    """
    with _ALONE:
        yield from _closed_standard_error()


def _closed_standard_error() -> Iterator[None]:
    kept = os.dup(2)
    with open(os.devnull, "w") as nowhere:  # noqa: PTH123
        os.dup2(nowhere.fileno(), 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _library() -> Any:
    try:
        # where the environment names CI, the module prints where it found the library: stdout is for our results
        with _ALONE, redirect_stdout(io.StringIO()):
            import fluidsynth
    except (ImportError, OSError):
        raise SoundError("audio", "FluidSynth's library is not installed", _INSTALL) from None
    set_log = declare(fluidsynth, *_SET_LOG)
    # FluidSynth talks to stderr by itself; what matters is said by our own errors
    for level in range(5):
        set_log(level, None, None)
    return fluidsynth


def declare(library: Any, name: str, result: Any, words: str) -> Any:
    """A function of FluidSynth's that pyfluidsynth leaves out; `words` tells its arguments.

    They are ``i`` for int, ``f`` for float, ``p`` for a pointer. Raises `SoundError` where the library lacks it.
    """
    kinds = {"i": _INT, "f": ctypes.c_float, "p": _POINTER}
    arguments = [word.split(":") for word in words.split()]
    declared = library.cfunc(name, result, *((argument, kinds[kind], 1) for argument, kind in arguments))
    if declared is None:
        raise SoundError("audio", f"FluidSynth's library is too old: it lacks {name}", "install version 2 or newer")
    return declared


class _Output:
    """Collects what the synthesizer sounds into blocks of `CHUNK` frames, and knows the loudest sample so far."""

    def __init__(self, synth: Synth, first: int) -> None:
        import numpy as np

        self.synth, self.buffer = synth, np.zeros((CHUNK, 2), np.float32)
        self.filled, self.at, self.peak = 0, first, 0.0

    def until(self, frame: int) -> Iterator[NDArray[np.float32]]:
        """Sound up to a frame, handing out blocks as they are full."""
        while self.at < frame:
            frames = min(frame - self.at, CHUNK - self.filled)
            self.synth.fill(self.buffer, self.filled, frames)
            self.filled, self.at = self.filled + frames, self.at + frames
            if self.filled == CHUNK:
                yield self.rest()

    def rest(self) -> NDArray[np.float32]:
        """What is sounded but not handed out yet."""
        block = self.buffer[: self.filled].copy()
        self.filled = 0
        self.peak = max(self.peak, _peak(block))
        return block

    def tail(self, least: int, most: int) -> Iterator[NDArray[np.float32]]:
        """Ring on for at least and at most so many frames, till it is quiet; the last block fades out."""
        import numpy as np

        block = self.rest()
        for count in range(1, -(-most // TAIL_CHUNK) + 1):
            yield block
            self.synth.fill(self.buffer, 0, TAIL_CHUNK)
            self.filled = TAIL_CHUNK
            block = self.rest()
            if count * TAIL_CHUNK >= least and _peak(block) <= max(QUIET * self.peak, 1e-6):
                break
        yield block * np.linspace(1, 0, TAIL_CHUNK, dtype=np.float32)[:, np.newaxis]


def _peak(block: NDArray[np.float32]) -> float:
    return float(abs(block).max(initial=0.0))


def check_length(length_s: float, what: str = "audio") -> None:
    """Raises `SoundError` for more sound than a player can mean: it would fill the disk before anything is said."""
    if length_s > LONGEST_S:
        hours = f"{length_s / 3600:,.0f} hours are more than the {LONGEST_S // 3600} we write"
        raise SoundError(what, hours, "name some bars, a quicker tempo or fewer rounds")


def render_blocks(
    performance: Performance,
    soundfont: Path | str | Font | None = None,
    *,
    sample_rate: int = RATE,
    reverb: bool = True,
) -> Iterator[NDArray[np.float32]]:
    """The performance as blocks of samples, shape (frames, 2), at `sample_rate` Hz.

    Raises `SoundError` without FluidSynth, with a SoundFont it cannot load, or at a rate it cannot play.
    """
    events = sorted(events_of(performance, sample_rate))
    with closing(open_synth(performance, soundfont, sample_rate=sample_rate, reverb=reverb)) as synth:
        yield from sounded(synth, events, 0, frame_of(performance.length_s, sample_rate))


def open_synth(
    performance: Performance, soundfont: Path | str | Font | None, *, sample_rate: int, reverb: bool
) -> Synth:
    """A synthesizer set up for a performance, to be closed; raises the errors of `render_blocks`."""
    if not RATES[0] <= sample_rate <= RATES[1]:
        raise SoundError("audio", f"{sample_rate} Hz is no sample rate FluidSynth plays", "name 8000 to 96000")
    check_length(performance.length_s)
    font = soundfont if isinstance(soundfont, Font) else soundfont_path(soundfont)
    synth = Synth(font, len(performance.parts), rate=sample_rate, reverb=reverb)
    synth.set_up(performance)
    return synth


def sounded(
    synth: Synth, events: Iterable[Event], first: int, end: int, *, whole_tail: bool = False
) -> Iterator[NDArray[np.float32]]:
    """Events in order as blocks of samples, from frame `first` to frame `end` and then until they have died away.

    They ring for as long as anything may where the `whole_tail` is asked for.
    """
    output = _Output(synth, first)
    for frame, together in groupby(events, itemgetter(0)):
        yield from output.until(frame)
        for event in together:
            synth.play(event)
    yield from output.until(end)
    least, most = (round(seconds * synth.rate) for seconds in TAIL_S)
    yield from output.tail(most if whole_tail else least, most)


def stem_key(
    performance: Performance, soundfont: Path | str | Font | None, sample_rate: int, *, reverb: bool
) -> str | None:
    """A name for what would be rendered, for the cache; `None` for a SoundFont that is shared, where none is kept."""
    if isinstance(soundfont, Font) or folder() is None:
        return None
    path = soundfont_path(soundfont).resolve()
    found = path.stat()
    parts = [
        (part.program, part.percussion, part.volume, part.pan, part.controls, list(map(_heard, part.notes)))
        for part in performance.parts
    ]
    version = declare(_library(), "fluid_version_str", ctypes.c_char_p, "")()
    off = (
        [] if performance.raw_samples else [sorted(measured_cents(path, p.program).items()) for p in performance.parts]
    )
    tuned = performance.tuning, off
    said = (parts, tuned, performance.length_s, sample_rate, reverb, str(path), found.st_size)
    return key_of([code_key("sound"), version, repr((said, found.st_mtime_ns)).encode()])


def _heard(note: PerformedNote) -> tuple[float, float, int, int]:
    return note.onset_s, note.duration_s, note.key, note.velocity


def events_of(performance: Performance, rate: int) -> Iterator[Event]:
    """What happens, at which frame, on the channel of each part; not in order."""
    yield from controls_of(performance, rate)
    for channel, part in enumerate(performance.parts):
        for stroke in strokes_of(part, rate):
            yield from struck(channel, stroke)


def controls_of(performance: Performance, rate: int) -> Iterator[Event]:
    """The changes of controllers among these events."""
    for channel, part in enumerate(performance.parts):
        for control in part.controls:
            yield Event(frame_of(control.onset_s, rate), CHANGE, channel, control.number, control.value)


def strokes_of(part: PerformedPart, rate: int) -> Iterator[Stroke]:
    """The notes of a part as strokes, moments in frames."""
    return single_strokes(_strokes(part.notes, rate))


def struck(channel: int, stroke: Stroke) -> Iterator[Event]:
    """The two events of a stroke."""
    yield Event(stroke.start, _ON, channel, stroke.key, stroke.velocity)
    yield Event(stroke.stop, _OFF, channel, stroke.key, 0)


def _strokes(notes: Iterable[PerformedNote], rate: int) -> Iterator[Stroke]:
    for note in notes:
        start = frame_of(note.onset_s, rate)
        stop = max(frame_of(note.onset_s + note.duration_s, rate), start + BLOCK)
        yield Stroke(note.key, start, stop, note.velocity)


def frame_of(moment_s: float, rate: int) -> int:
    """The nearest block boundary: FluidSynth acts there anyway, and whole blocks are its fast path."""
    return round(moment_s * rate / BLOCK) * BLOCK
