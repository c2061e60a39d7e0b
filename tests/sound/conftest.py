"""Small performances to sound: at 60 quarter notes a minute, so that quarters and seconds are the same number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from appui.exact import Fraction
from appui.perform.model import Control, Mark, Performance, PerformedNote, PerformedPart, TempoStep
from appui.score.pitch import Pitch

Short = tuple[float, float, int, int]  # onset, duration (quarters), key, velocity


def _part(notes: Iterable[Short], program: int = 73, *, name: str = "Flute", **other: Any) -> PerformedPart:
    performed = tuple(
        PerformedNote(Fraction(onset), Fraction(length), float(onset), float(length), Pitch("C", 0, 4), key, velocity)
        for onset, length, key, velocity in notes
    )
    controls = tuple(Control(Fraction(at), float(at), number, value) for at, number, value in other.pop("controls", ()))
    return PerformedPart(other.pop("id", name), name, program, performed, controls, **other)


def _piece(
    *parts: PerformedPart, marks: Sequence[Mark] = (), qpm: int = 60, length: float | None = None
) -> Performance:
    ends = [note.onset_q + note.duration_q for part in parts for note in part.notes]
    length_q = max(ends, default=Fraction(0)) if length is None else Fraction(length)
    return Performance(
        "Étude", parts, (TempoStep(Fraction(0), 0.0, Fraction(qpm)),), tuple(marks), length_q, float(length_q)
    )


@pytest.fixture(scope="session")
def part() -> Callable[..., PerformedPart]:
    """Make a part of (onset, duration, key, velocity)."""
    return _part


@pytest.fixture(scope="session")
def piece() -> Callable[..., Performance]:
    """Make a performance of parts."""
    return _piece


@pytest.fixture(scope="session")
def samples() -> Callable[..., Any]:
    """Render a performance into one array of float samples, shape (frames, 2), without reverb."""
    import numpy as np

    from appui.sound.synth import render_blocks

    def render(performance: Performance, *, reverb: bool = False, **other: Any) -> Any:
        return np.concatenate(list(render_blocks(performance, reverb=reverb, **other)))

    return render


@pytest.fixture
def small_disk() -> Callable[[int], Any]:
    """For a while no file may grow beyond some bytes: the system refuses the write, as a full disk does."""
    resource = pytest.importorskip("resource", reason="file limits are a thing of Unix")

    @contextmanager
    def limited(size: int) -> Iterator[None]:
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
        try:
            yield
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))

    return limited


@pytest.fixture
def kept(tmp_path: Path) -> Callable[[str], Path]:
    """Put a file in place that must survive."""

    def make(name: str) -> Path:
        path = tmp_path / name
        path.write_bytes(b"what was there")
        return path

    return make
