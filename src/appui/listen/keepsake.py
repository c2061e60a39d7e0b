"""What stays of a take in a folder: a picture a place, what was played and what was decided as sound, equally loud."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from fractions import Fraction as Exact
from pathlib import Path
from typing import TYPE_CHECKING

from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation
from appui.listen.frames import FRAME_S, RATE
from appui.listen.judge import Heard
from appui.listen.listen import Report
from appui.listen.picture import picture
from appui.listen.report import told
from appui.listen.take import levels
from appui.perform.play import play
from appui.score.bars import play_order
from appui.score.signs import bar_names
from appui.sound.files import make_folder, whole_file, write_whole
from appui.sound.formats import sound_file
from appui.sound.loudness import TRUE_PEAK_DBTP, gain_for, measure
from appui.sound.synth import render_blocks

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]

__all__ = ["write_folder"]

_BEFORE_S, _AFTER_S = 1.5, 2.5
_FADE_S = 0.02
#  a rendering is not slowed or hurried further than this for the pace of a take
_PACES = (0.4, 2.5)


def write_folder(interpretation: Interpretation, reports: Sequence[Report], folder: Path) -> Iterator[Path]:
    """Write pictures and excerpts of every place of every take; gives each file as it is written.

    Raises `OutputError` for what cannot be written, `SoundError` where there is no synthesizer.
    """
    make_folder(folder)
    for number, report in enumerate(reports, 1):
        name = Path(report.file).stem if len(reports) > 1 else ""
        inside = folder / f"{number} {name}" if name else folder
        if name:
            make_folder(inside)
        yield from _of_take(interpretation, report, inside)


def _of_take(interpretation: Interpretation, report: Report, folder: Path) -> Iterator[Path]:
    level_db = levels(report.samples) if report.samples is not None else None
    words = {row.place: f"{row.place}: {row.played}" for row in told(report)}
    for heard in report.places:
        name = re.sub(r"[^\w.+()-]+", " ", heard.place.name.replace("/", "-"))
        path = folder / f"{name}.svg"
        write_whole(path, picture(heard, words[heard.place.name], level_db, FRAME_S).encode())
        yield path
        if report.samples is not None and _moment(heard) is not None:
            yield from _sounds(interpretation, report.samples, heard, folder / name)


def _moment(heard: Heard) -> float | None:
    """Where in the take a place is."""
    found = (heard.beat.at_s, heard.main_s)
    return next((at for at in found if math.isfinite(at)), None)


def _sounds(interpretation: Interpretation, samples: Sound, heard: Heard, path: Path) -> Iterator[Path]:
    import numpy as np

    at_s = _moment(heard) or 0.0
    # a late figure is heard to its end
    until_s = max(at_s + _AFTER_S, heard.main_s + 1 if heard.how == "after" else 0.0)
    cut = samples[max(round((at_s - _BEFORE_S) * RATE), 0) : round(until_s * RATE)]
    rendered = _rendered(interpretation, heard)
    pair = (("played", np.stack([cut, cut], axis=1)), ("decided", rendered))
    measured = [measure([sound], RATE) for _, sound in pair]
    # each to one loudness, and both down together where one would come too near the ceiling
    gains = [gain_for([each], peak_dbtp=math.inf) for each in measured]
    room = min(TRUE_PEAK_DBTP - each.peak_dbtp - gain for each, gain in zip(measured, gains, strict=True))
    for (what, sound), gain in zip(pair, gains, strict=True):
        file = path.with_name(f"{path.name} {what}.wav")
        _write(file, sound * np.float32(10 ** ((gain + min(room, 0.0)) / 20)))
        yield file


def _rendered(interpretation: Interpretation, heard: Heard) -> Sound:
    """The bar of a place as decided, at about the pace of the take."""
    import numpy as np

    score = interpretation.score
    bar = bar_names(score)[heard.place.sign.main(score).bar]
    pace = heard.beat.pace * heard.place.pace
    pace = pace if _PACES[0] < pace < _PACES[1] else 1.0
    factor = interpretation.factor / Fraction(Exact(pace).limit_denominator(1000))
    performance = play(
        interpretation, play_order(score, bar, repeats=False), parts=[_solo(interpretation)], factor=factor
    )
    return np.concatenate(list(render_blocks(performance, sample_rate=RATE)))


def _solo(interpretation: Interpretation) -> int:
    return interpretation.solo.index


def _write(path: Path, sound: Sound) -> None:
    import numpy as np

    fade = min(round(_FADE_S * RATE), len(sound) // 2)
    ramp = np.linspace(0, 1, fade, dtype=np.float32)[:, np.newaxis]
    sound = sound.copy()
    sound[:fade] *= ramp
    sound[len(sound) - fade :] *= ramp[::-1]
    with whole_file(path) as temporary, sound_file(temporary, path, RATE, len(sound)) as put:
        put(sound)
