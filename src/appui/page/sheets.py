"""Sound for the page: sheets of MP3, mono, and where on them what is found.

One sheet holds the accompaniment of a passage at a tempo; one its solo as chosen, and behind it, one after another,
the stretches of the other readings with the notes around them, all rendered in one go. The page cuts them together,
so a reading costs only the seconds in which it differs.

MP3, since every browser decodes it; Opus in OGG, smaller by a third, is not decoded by Safari before 18.4 (its release
notes, memory). A coder delays what it is given, and decoders differ in how much of the delay they take away. So every
sheet begins with a tick that is never heard: its place is known here, and where the page finds it after decoding tells
the delay to the sample.

All sheets share one gain: accompaniment and solo together stay below -2 dBFS.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import TypeVar

from appui.page.passages import Heard, Stretch, within
from appui.perform.model import Performance, PerformedPart
from appui.perform.perform import only
from appui.scratch import scratch
from appui.sound.synth import BLOCK, render_blocks

__all__ = ["HEAD_S", "MP3_RATE", "Placed", "Sheet", "TICK_S", "Wanted", "make_sheets"]

_T = TypeVar("_T")
MP3_RATE = 24000
#  before the sound of every sheet; the tick is in its middle
HEAD_S, TICK_S = 0.2, 0.1
_TICK = 0.9
_CEILING = 10 ** (-2 / 20)
#  notes around a stretch: before it for what still rings, after it for the cross-fade; then silence
_BEFORE_S, _AFTER_S, _GAP_S = 0.4, 0.35, 0.35
#  0 best, 1 smallest: about 33 kbit a second
_COMPRESSION = 0.5


@dataclass(frozen=True, slots=True)
class Placed:
    """A stretch on its sheet: `at_s` after the head is the moment that plays at `start_s` of the passage."""

    place: str
    reading: str
    start_s: float
    end_s: float
    at_s: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """One MP3 file: `role` is ``solo`` or ``accompaniment``."""

    role: str
    data: bytes
    placed: tuple[Placed, ...] = ()


@dataclass(frozen=True, slots=True)
class Wanted:
    """A passage at a tempo, and the stretches to be heard in it."""

    heard: Heard
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class _Job:
    role: str
    performance: Performance
    placed: tuple[Placed, ...]


def make_sheets(
    wanted: Iterable[Wanted], soundfont: Path | None, say: Callable[[str], None] = lambda words: None
) -> list[tuple[Sheet, ...]]:
    """The sheets of each passage and tempo, in order; raises `SoundError` as rendering does."""
    groups = [_jobs(each) for each in wanted]
    jobs = [job for group in groups for job in group]
    # FluidSynth and the coder work outside Python's lock: two at a time keep two processors busy. What is rendered
    # waits on the disk until the loudest of all is known: an hour of it would be 350 MB of memory
    with scratch() as folder, ThreadPoolExecutor(2) as pool:
        files = [folder / f"{number}.f32" for number in range(len(jobs))]
        peaks = list(
            _told(
                pool.map(lambda job, file: _render(job, soundfont, file), jobs, files), say, f"of {len(jobs)} rendered"
            )
        )
        gain = _common_gain(jobs, peaks)
        coded = list(_told(pool.map(lambda file: _coded(file, gain), files), say, f"of {len(jobs)} coded as MP3"))
    sheets = iter([Sheet(job.role, data, job.placed) for job, data in zip(jobs, coded, strict=True)])
    return [tuple(next(sheets) for _ in group) for group in groups]


def _told(things: Iterable[_T], say: Callable[[str], None], what: str) -> Iterator[_T]:
    for number, thing in enumerate(things, 1):
        say(f"{number} {what}")
        yield thing


def _jobs(wanted: Wanted) -> list[_Job]:
    whole = wanted.heard.whole
    solo, placed = _solo_sheet(only(whole, solo=True), wanted.stretches)
    others = only(whole, solo=False)
    made = [_Job("solo", solo, placed)]
    return [*made, _Job("accompaniment", others, ())] if any(part.notes for part in others.parts) else made


def _solo_sheet(solo: Performance, stretches: Sequence[Stretch]) -> tuple[Performance, tuple[Placed, ...]]:
    """The solo with the stretches behind it, on one time line."""
    base = solo.parts[0]
    parts: list[PerformedPart] = []
    placed: list[Placed] = []
    cursor_s = solo.length_s + 2 * _GAP_S
    for stretch in stretches:
        start_s, end_s = stretch.start_s - _BEFORE_S, stretch.end_s + _AFTER_S
        shift_s = _on_block(cursor_s - start_s)
        parts.append(within(stretch.part, start_s, end_s, shift_s))
        at_s = stretch.start_s + shift_s
        placed.append(Placed(stretch.place, stretch.reading, stretch.start_s, stretch.end_s, at_s))
        cursor_s = end_s + shift_s + _GAP_S
    notes = (*base.notes, *(note for part in parts for note in part.notes))
    controls = (*base.controls, *(control for part in parts for control in part.controls))
    part = replace(base, notes=notes, controls=controls)
    return replace(solo, parts=(part,), length_s=max(cursor_s, solo.length_s)), tuple(placed)


def _on_block(shift_s: float) -> float:
    """The next shift that moves sounds by whole blocks of the synthesizer, so that moved notes are struck alike."""
    return math.ceil(shift_s * MP3_RATE / BLOCK) * BLOCK / MP3_RATE


def _render(job: _Job, soundfont: Path | None, file: Path) -> float:
    """Render into a file of bare 32-bit samples; returns the peak."""
    import numpy as np

    peak = 0.0
    with file.open("wb") as out:
        for block in render_blocks(job.performance, soundfont, sample_rate=MP3_RATE):
            sound = block.mean(1, dtype=np.float32)
            peak = max(peak, float(abs(sound).max(initial=0.0)))
            out.write(sound.tobytes())
    return peak


def _common_gain(jobs: Sequence[_Job], heights: Sequence[float]) -> float:
    peaks = {"solo": 0.0, "accompaniment": 0.0}
    for job, height in zip(jobs, heights, strict=True):
        peaks[job.role] = max(peaks[job.role], height)
    return _CEILING / max(sum(peaks.values()), 1e-6)


def _coded(file: Path, gain: float) -> bytes:
    import numpy as np
    import soundfile

    sound = np.fromfile(file, np.float32)
    head = np.zeros(round(HEAD_S * MP3_RATE), np.float32)
    head[round(TICK_S * MP3_RATE)] = _TICK
    stream = BytesIO()
    with soundfile.SoundFile(
        stream,
        "w",
        MP3_RATE,
        1,
        "MPEG_LAYER_III",
        format="MP3",
        compression_level=_COMPRESSION,
        bitrate_mode="VARIABLE",
    ) as out:
        out.write(np.concatenate([head, sound * np.float32(gain)]))
    return stream.getvalue()
