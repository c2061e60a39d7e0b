"""One chain from a score and a take to what was played: load, find the line, hear the places, judge them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from appui.errors import SoundError
from appui.interpret.interpretation import Interpretation
from appui.listen.align import align
from appui.listen.heard import HeardLine
from appui.listen.judge import Heard, judge
from appui.listen.line import Line, line_of
from appui.listen.places import hear
from appui.listen.take import load, take_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Report", "Wanted", "listen", "listen_samples"]

#  a take of whose notes fewer fit is of something else
_SAME_PIECE = 0.5


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked: which bars, at what pitch the take is (A4, Hz), and whether repeats were played."""

    bars: str | None = None
    a4_hz: float = 440.0
    repeats: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """What was heard in one take."""

    file: str
    line: Line
    heard: HeardLine
    places: tuple[Heard, ...]


def listen(interpretation: Interpretation, path: Path, wanted: Wanted) -> Report:
    """Hear a take; raises `SoundError` for a file that cannot be used, or is of something else."""
    return listen_samples(interpretation, load(path), path, wanted)


def listen_samples(
    interpretation: Interpretation, samples: NDArray[np.float32], file: object, wanted: Wanted
) -> Report:
    """The same for samples at `appui.listen.take.RATE`."""
    order = interpretation.order(wanted.bars, repeats=wanted.repeats)
    line = line_of(interpretation, order)
    take = take_of(samples, file, wanted.a4_hz)
    aligned = align(line, take)
    fit = sum(aligned.fit) / len(aligned.fit)
    if fit < _SAME_PIECE:
        raise SoundError(
            file,
            f"does not sound like these bars: {100 * fit:.0f} % of the notes fit",
            "name the bars that were played with --bars, and the pitch with --pitch",
        )
    heard = hear(line, take, aligned)
    return Report(str(file), line, heard, tuple(judge(line, heard)))
