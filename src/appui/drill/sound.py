"""Trials as sound: every interval as loud as the others, as long as the others, at a level that says nothing.

Loudness is that of the whole interval (`sound/loudness.py`, ITU-R BS.1770), so a heavier leaning note does not make its
interval louder. A trial as a whole roves by 6 dB around -26 LUFS, lower where its true peak would pass -1 dBTP. All
intervals of a trial have the same number of frames: what rings after the last note is cut at one moment and faded.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from appui.drill.trial import Trial
from appui.exact import Fraction
from appui.perform.excerpt import later
from appui.perform.model import Control, Performance, PerformedPart
from appui.sound.loudness import TRUE_PEAK_DBTP, measure
from appui.sound.synth import RATE, Font, render_blocks

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

__all__ = ["GAP_S", "Heard", "hear", "joined", "one_after_another", "opened_font", "write_heard"]

GAP_S = 0.8
MIDDLE_LUFS, ROVE_DB = -26.0, 3.0
_RING_S, _FADE_S = 1.0, 0.15
_LEAD_S = 0.15
#  MIDI's channel volume
_VOLUME = 7


@dataclass(frozen=True)
class Heard:
    """A trial's intervals as samples, shape (frames, 2), and the gain in dB each has over what was rendered."""

    sounds: tuple[Samples, ...]
    gains_db: tuple[float, ...]
    rate: int = RATE


@contextmanager
def opened_font(soundfont: Path | str | None = None) -> Iterator[Font]:
    """A SoundFont for many trials; raises `SoundError` as rendering does."""
    font = Font(soundfont)
    try:
        yield font
    finally:
        font.close()


def hear(trial: Trial, font: Font, *, rate: int = RATE, reverb: bool = True, rove: bool = True) -> Heard:
    """Render a trial's intervals; raises `SoundError`."""
    chance = random.Random(f"{trial.kind.name} {trial.seed} {trial.number} level")  # noqa: S311 - chance of music, not of secrets
    target = MIDDLE_LUFS + (chance.uniform(-ROVE_DB, ROVE_DB) if rove else 0.0)
    frames = round((max(p.length_s for p in trial.intervals) + _RING_S) * rate)
    raw = [_rendered(performance, font, frames, rate, reverb=reverb) for performance in trial.intervals]
    measured = [measure([sound], rate) for sound in raw]
    # one step down for all, so that they stay equal
    over = max(0.0, max(target - m.lufs + m.peak_dbtp for m in measured) - TRUE_PEAK_DBTP)
    gains = tuple(target - m.lufs - over for m in measured)
    import numpy as np

    scaled = (sound * np.float32(10 ** (gain / 20)) for sound, gain in zip(raw, gains, strict=True))
    return Heard(tuple(scaled), gains, rate)


def _rendered(performance: Performance, font: Font, frames: int, rate: int, *, reverb: bool) -> Samples:
    import numpy as np

    led = replace(later(performance, Fraction(0), _LEAD_S), length_s=performance.length_s + _LEAD_S)
    sound = np.concatenate(list(render_blocks(led, font, sample_rate=rate, reverb=reverb)))
    fixed = np.zeros((frames, 2), np.float32)
    fixed[: min(frames, len(sound))] = sound[:frames]
    fade = round(_FADE_S * rate)
    fixed[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)[:, np.newaxis]
    return fixed


def joined(heard: Heard) -> Samples:
    """The intervals one after another, silence between them."""
    import numpy as np

    gap = np.zeros((round(GAP_S * heard.rate), 2), np.float32)
    pieces = [piece for sound in heard.sounds for piece in (sound, gap)]
    return np.concatenate(pieces[:-1])


def write_heard(heard: Heard, path: Path) -> None:
    """Write a trial as one audio file, by suffix; raises `OutputError` or `SoundError`."""
    from appui.sound.files import whole_file
    from appui.sound.formats import sound_file

    samples = joined(heard)
    with whole_file(path) as temporary, sound_file(temporary, path, heard.rate, len(samples)) as put:
        put(samples)


def one_after_another(trial: Trial, heard: Heard) -> Performance:
    """The intervals as one performance for a sound card, each brought to its loudness by the channel volume.

    The volume has steps of about 0.2 dB.
    """
    at_s, moved = 0.0, []
    for performance, gain_db in zip(trial.intervals, heard.gains_db, strict=True):
        at_s += _LEAD_S
        moved.append(_as_loud(later(performance, Fraction(0), at_s), gain_db - max(heard.gains_db), at_s - 0.05))
        at_s += performance.length_s + _RING_S + GAP_S
    first = moved[0]
    parts = tuple(_chained(each) for each in zip(*(performance.parts for performance in moved), strict=True))
    return replace(first, parts=parts, length_s=at_s - GAP_S - _RING_S)


def _as_loud(performance: Performance, gain_db: float, at_s: float) -> Performance:
    """The parts with their volume set at a moment: a channel's volume of v sounds 40 log10(v / 127) dB."""
    parts = tuple(
        replace(
            part,
            controls=(Control(Fraction(0), at_s, _VOLUME, round(part.volume * 10 ** (gain_db / 40))), *part.controls),
        )
        for part in performance.parts
    )
    return replace(performance, parts=parts)


def _chained(parts: Sequence[PerformedPart]) -> PerformedPart:
    first = parts[0]
    return replace(
        first,
        notes=tuple(note for part in parts for note in part.notes),
        controls=tuple(control for part in parts for control in part.controls),
    )
