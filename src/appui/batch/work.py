"""What is done with one score: survey, render, page or practice, under each style; and what became of it.

A score that cannot be used gives a row that says so, and so does an error of the program itself: neither stops the
others. A `Job` and its rows are plain data, so that they go to other processes and machines.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from appui import __version__
from appui.batch.collect import Found
from appui.batch.report import Row
from appui.errors import AppuiError, StyleError, memory_spent
from appui.given import guarded
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.source import read_bytes
from appui.perform.play import play
from appui.score.bars import bar_range
from appui.sound.files import make_folder, write_whole
from appui.text import text_of

__all__ = ["DOERS", "Job", "run_job"]

_TEMPOS = ("60%", "80%", "100%")
#  played as music: see `appui manual playing`
_LISTENED_TO = frozenset({"render", "page", "practice"})
_PAGE_TEMPOS = ("60%", "100%")


@dataclass(frozen=True, slots=True)
class Job:
    """One score, what is to be done, under which styles (empty: the default), where the outputs go."""

    found: Found
    what: str
    styles: tuple[str, ...]
    folder: Path
    soundfont: Path | None = None
    known: tuple[Row, ...] = ()

    def stem(self, style: str) -> Path:
        """The path of the outputs without their suffix; the style is in it where several are asked for."""
        name = self.found.stem + (f".{style}" if len(self.styles) > 1 else "")
        return self.folder / name


def run_job(job: Job) -> list[Row]:
    """A row a style; those known from an earlier run with the same digest and whole outputs come back as they are."""
    with guarded():
        return _rows(job)


def _rows(job: Job) -> list[Row]:
    rows = []
    for style in job.styles:
        started = time.monotonic()
        try:
            digest = _digest(job, style)
            known = next((row for row in job.known if row.style == style and row.digest == digest), None)
            if known is not None and _whole(job.folder, known):
                rows.append(known)
                continue
            signs, paths = _done(job, style)
            files = tuple((path.relative_to(job.folder).as_posix(), path.stat().st_size) for path in paths)
            row = Row(job.found.name, style, job.what, "done", signs=signs, files=files, digest=digest)
        except AppuiError as error:
            row = Row(job.found.name, style, job.what, "refused", error=str(error))
        except MemoryError:
            row = Row(job.found.name, style, job.what, "refused", error=memory_spent(job.found.name))
        except Exception as error:  # noqa: BLE001  the others go on, and the report tells of it
            row = Row(job.found.name, style, job.what, "fault", error=f"{type(error).__name__}: {error}"[:500])
        rows.append(_timed(row, time.monotonic() - started))
    return rows


def _timed(row: Row, seconds: float) -> Row:
    return replace(row, seconds=round(seconds, 3))


def _whole(folder: Path, row: Row) -> bool:
    return row.status == "done" and all(
        (folder / name).is_file() and (folder / name).stat().st_size == size for name, size in row.files
    )


def _digest(job: Job, style: str) -> str:
    """The same for the same score, work, style and version."""
    content = read_bytes(job.found.path)
    own = Path(style)
    rules = text_of(own, StyleError, "style", "check the file") if own.suffix == ".toml" and own.is_file() else style
    said = [__version__, job.what, rules, str(job.stem(style)), str(job.soundfont or "")]
    return hashlib.sha256(json.dumps(said).encode() + content).hexdigest()


def _done(job: Job, style: str) -> tuple[int, Sequence[Path]]:
    tempo = _PAGE_TEMPOS[0] if job.what == "page" else None
    wishes = Wishes(style=style, tempo=tempo)
    if job.what in _LISTENED_TO:
        # a track to play with keeps its click
        wishes = replace(wishes, shape="shaped", time="strict" if job.what == "practice" else "shaped")
    interpretation = interpret(job.found.path, wishes)
    stem = job.stem(style)
    make_folder(stem.parent)
    paths = DOERS[job.what](interpretation, stem, job)
    return sum(sign.part == interpretation.solo.index for sign in interpretation.signs), paths


def _survey(interpretation: Interpretation, stem: Path, job: Job) -> Sequence[Path]:
    from appui.compare.survey import select, survey_record

    del job
    record = survey_record(interpretation, select(interpretation, all_parts=False, bars=None))
    return [_written(stem, ".json", (json.dumps(record, ensure_ascii=False, indent=1) + "\n").encode())]


def _render(interpretation: Interpretation, stem: Path, job: Job) -> Sequence[Path]:
    from appui.sound.midi import midi_bytes

    del job
    return [_written(stem, ".mid", midi_bytes(play(interpretation, interpretation.order(None, repeats=True))))]


def _practice(interpretation: Interpretation, stem: Path, job: Job) -> Sequence[Path]:
    from functools import partial

    from appui.practice.deliver import Job as TrackJob
    from appui.practice.deliver import deliver
    from appui.practice.plan import make_track
    from appui.practice.week import words_for
    from appui.practice.words import wish_of

    wishes = {tempo: wish_of({"tempo": [tempo], "click": "beats"}) for tempo in _TEMPOS}
    jobs = [
        TrackJob(
            partial(make_track, interpretation, wish, title=stem.name),
            (_beside(stem, f" {tempo.removesuffix('%')} percent.flac"),),
            title=stem.name,
            words=words_for(wish, interpretation.style.name, None, None),
        )
        for tempo, wish in wishes.items()
    ]
    deliver(jobs, job.soundfont)
    return [path for each in jobs for path in each.outputs]


def _page(interpretation: Interpretation, stem: Path, job: Job) -> Sequence[Path]:
    from appui.compare.survey import select
    from appui.page.build import make_page

    signs = select(interpretation, all_parts=False, bars=None)
    path = _beside(stem, ".html")
    made = make_page(
        interpretation,
        job.found.path,
        path,
        signs,
        bar_range(interpretation.score, None),
        _PAGE_TEMPOS,
        soundfont=job.soundfont,
        folder=False,
    )
    return made.files


def _beside(stem: Path, ending: str) -> Path:
    # a stem may hold dots of its own: `with_suffix` would eat them
    return stem.parent / (stem.name + ending)


def _written(stem: Path, suffix: str, data: bytes) -> Path:
    path = _beside(stem, suffix)
    write_whole(path, data)
    return path


DOERS: dict[str, Callable[[Interpretation, Path, Job], Sequence[Path]]] = {
    "survey": _survey,
    "render": _render,
    "page": _page,
    "practice": _practice,
}
