"""A long performance rendered in sections side by side, a core each, laid over one another in one file.

Sound adds up: a section has the notes that begin in it, and rings on under the next until the last of them has died
away. Without reverb the sum is the same as in one piece but for rounding; the slow wavering of the reverb begins anew
with each section. Where the cuts are depends on the performance alone, never on the cores: the same bytes come out
everywhere. A cut is made only where no note lasts long beyond it.
"""

from __future__ import annotations

import os
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from itertools import accumulate, zip_longest
from pathlib import Path
from threading import Event as Flag
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from appui.perform.model import Performance
from appui.sound.strokes import Stroke
from appui.sound.synth import CHANGE, CHUNK, Event, Font, controls_of, frame_of, open_synth, sounded, strokes_of, struck

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["FRAME_BYTES", "Rendered", "Section", "render_file", "sections_of", "workers"]

FRAME_BYTES = 8  # two float32
#  a section is at least so long, and there are at most so many: each costs its ringing once more
SHORTEST_S, MOST = 60, 4
#  how far a cut may be from where the work would be even, in parts of a section; how long a note may last beyond it
_REACH, _OUTLAST_S = 0.2, 8.0
_RING_S = 2


class Rendered(NamedTuple):
    """What a file of samples holds: how many frames, the highest absolute sample (linear)."""

    frames: int
    peak: float


@dataclass(frozen=True, slots=True)
class Section:
    """The events of all notes that begin from frame `start` until `stop`, in order; by frame `end` they are over."""

    start: int
    stop: int
    end: int
    events: tuple[Event, ...]


def workers() -> int:
    """How many things are done at a time: the cores there are for us."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def sections_of(performance: Performance, rate: int, most: int = MOST) -> tuple[Section, ...]:
    """The sections of a performance, in order; of a short one only one."""
    voices = [(channel, stroke) for channel, part in enumerate(performance.parts) for stroke in strokes_of(part, rate)]
    voices.sort(key=lambda voice: voice[1].start)
    strokes = [stroke for _, stroke in voices]
    starts = [stroke.start for stroke in strokes]
    controls = sorted(controls_of(performance, rate))
    length = frame_of(performance.length_s, rate)
    bounds = [0, *_cuts(strokes, length, rate, most)]
    made = []
    for first, cut in zip_longest(bounds, bounds[1:]):
        own = voices[bisect_left(starts, first) : None if cut is None else bisect_left(starts, cut)]
        #  what rings on still follows the swells that come
        end = length if cut is None else max([cut, *(stroke.stop + _RING_S * rate for _, stroke in own)])
        events = [
            *_in_force(controls, first, None if cut is None else end),
            *(e for voice in own for e in struck(*voice)),
        ]
        made.append(Section(first, cut or length, end, tuple(sorted(events))))
    return tuple(made)


def _in_force(controls: Sequence[Event], first: int, end: int | None) -> Iterator[Event]:
    """The changes from a frame on and until another, after what earlier ones have left there."""
    kept = {(event.channel, event.number): event.value for event in controls if event.frame < first}
    for (channel, number), value in kept.items():
        yield Event(first, CHANGE, channel, number, value)
    yield from (event for event in controls if first <= event.frame and (end is None or event.frame <= end))


def _cuts(strokes: Sequence[Stroke], length: int, rate: int, most: int) -> Iterator[int]:
    """Where to cut, whole chunks; the strokes come in the order of their beginnings."""
    count = min(most, length // (SHORTEST_S * rate))
    if count < 2 or not strokes:
        return
    starts = [stroke.start for stroke in strokes]
    work = list(accumulate(stroke.stop - stroke.start for stroke in strokes))
    latest = list(accumulate((stroke.stop for stroke in strokes), max))
    reach, before = int(_REACH * length / count), 0
    for place in range(1, count):
        even = starts[bisect_left(work, work[-1] * place // count)]

        def cost(at: int, even: int = even) -> tuple[int, int]:
            begun = bisect_left(starts, at)
            return max(0, latest[begun - 1] - at) if begun else 0, abs(at - even)

        near = range(max(-(-(even - reach) // CHUNK) * CHUNK, before + CHUNK), min(even + reach, length), CHUNK)
        best = min(near, key=cost, default=None)
        if best is not None and cost(best)[0] <= _OUTLAST_S * rate:
            yield best
            before = best


def render_file(
    file: Path, performance: Performance, soundfont: Path | str | Font | None, *, sample_rate: int, reverb: bool
) -> Rendered:
    """Render into a file of float32 stereo that is not there yet.

    Raises the errors of `render_blocks`, and `OSError` for the file.
    """
    # a shared SoundFont is for one at a time
    sections = sections_of(performance, sample_rate, 1 if isinstance(soundfont, Font) else MOST)
    work = _Work(file, performance, soundfont, sample_rate, reverb)
    file.touch()
    if len(sections) == 1:
        return _joined(file, [work.render(sections[0], last=True)])
    with ThreadPoolExecutor(min(workers(), len(sections))) as pool:
        try:
            futures = [pool.submit(work.render, one, last=one is sections[-1]) for one in sections]
            return _joined(file, [future.result() for future in futures])
        except BaseException:
            work.given_up.set()
            raise


@dataclass(slots=True)
class _Part:
    """What a section has left: the peak of each block in the file (first frame, last, peak), and what rings on."""

    stop: int
    blocks: list[tuple[int, int, float]] = field(default_factory=list)
    ringing: list[NDArray[np.float32]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Work:
    file: Path
    performance: Performance
    soundfont: Path | str | Font | None
    rate: int
    reverb: bool
    given_up: Flag = field(default_factory=Flag)

    def render(self, section: Section, *, last: bool) -> _Part:
        """Write a section at its place in the file; what rings on beyond it is kept, but for the last."""
        part, at = _Part(section.stop), section.start
        synth = open_synth(self.performance, self.soundfont, sample_rate=self.rate, reverb=self.reverb)
        with closing(synth), self.file.open("r+b") as stream:
            stream.seek(at * FRAME_BYTES)
            for block in sounded(synth, section.events, section.start, section.end, whole_tail=not last):
                if self.given_up.is_set():
                    break
                inside = len(block) if last else max(0, min(len(block), section.stop - at))
                if inside:
                    stream.write(block[:inside].data)
                    part.blocks.append((at, at + inside, _peak(block[:inside])))
                if inside < len(block):
                    part.ringing.append(block[inside:])
                at += len(block)
        return part


def _joined(file: Path, parts: Sequence[_Part]) -> Rendered:
    """Lay what rings on over the sections that follow."""
    with file.open("r+b") as stream:
        laid = [(part.stop, _lay(stream, part.stop, part.ringing)) for part in parts if part.ringing]
        peaks = [_peak(_read(stream, first, stop)) for first, stop in laid]
        for first, stop, peak in (block for part in parts for block in part.blocks):
            under = any(first < end and begin < stop for begin, end in laid)
            peaks.append(_peak(_read(stream, first, stop)) if under else peak)
        return Rendered(stream.seek(0, 2) // FRAME_BYTES, max(peaks, default=0.0))


def _lay(stream: BinaryIO, first: int, ringing: Sequence[NDArray[np.float32]]) -> int:
    """Add sound from a frame on; the frame after it."""
    import numpy as np

    sound = np.concatenate(ringing)
    there = _read(stream, first, first + len(sound))
    sound[: len(there)] += there
    stream.seek(first * FRAME_BYTES)
    stream.write(sound.data)
    return first + len(sound)


def _read(stream: BinaryIO, first: int, stop: int) -> NDArray[np.float32]:
    import numpy as np

    stream.seek(first * FRAME_BYTES)
    return np.frombuffer(stream.read((stop - first) * FRAME_BYTES), np.float32).reshape(-1, 2)


def _peak(block: NDArray[np.float32]) -> float:
    return float(abs(block).max(initial=0.0))
