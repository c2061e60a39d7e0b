"""A batch: jobs spread over processes or machines by joblib, rows written as they come.

joblib runs the jobs on its own processes or on whatever engine is registered with it (Dask, Ray): nothing here knows
where. A worker that dies takes its engine with it; then the jobs that have no row yet are done once more, each in a
process of its own, and one that dies again has a row that says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from appui.batch.collect import collect
from appui.batch.report import REPORT, Row, add_row, read_rows, write_report
from appui.batch.work import Job, run_job
from appui.errors import OutputError, UsageError
from appui.given import was_given
from appui.sound.files import make_folder

__all__ = ["run_batch"]


def run_batch(
    source: Path,
    folder: Path,
    *,
    what: str = "survey",
    styles: Sequence[str] = ("harmony",),
    workers: int = -1,
    backend: str | None = None,
    scheduler: str | None = None,
    soundfont: Path | None = None,
    again: bool = False,
    say: Callable[[str], None] = lambda words: None,
) -> list[Row]:
    """Work through the scores of `source` into `folder`; the rows by score and style.

    `workers` as joblib's n_jobs (-1: all cores); `backend` a name registered with joblib, `scheduler` the address of
    its engine. What an earlier run has done is kept, unless `again`. Raises `InputError`, `OutputError`, `UsageError`
    before any score is read; what a score does wrong stands in its row.
    """
    found = collect(source)
    make_folder(folder)
    if (folder / REPORT).exists() and not (folder / REPORT).is_file():
        raise OutputError(folder / REPORT, "is no ordinary file", "move it away, or name another folder")
    if was_given(folder / REPORT):
        raise OutputError(folder / REPORT, "is a file this command reads: it would be lost", "name another folder")
    known = {} if again else read_rows(folder)
    jobs = [
        Job(
            each, what, tuple(styles), folder, soundfont, tuple(row for row in known.values() if row.score == each.name)
        )
        for each in found
    ]
    rows: dict[tuple[str, str, str], Row] = {}
    try:
        with (folder / REPORT).open("a", encoding="utf-8") as stream:
            for made in _spread(jobs, workers, backend, scheduler):
                for row in made:
                    rows[row.key] = row
                    if known.get(row.key) != row:
                        add_row(stream, row)
                    say(row.score)
    except OSError as error:
        raise OutputError(folder / REPORT, f"cannot be written ({error.strerror or error})", "free space") from None
    ordered = [rows[key] for key in sorted(rows)]
    write_report(folder, ordered)
    return ordered


def _spread(jobs: Sequence[Job], workers: int, backend: str | None, scheduler: str | None) -> Iterator[list[Row]]:
    from joblib.externals.loky.process_executor import TerminatedWorkerError

    left = {job.found.name: job for job in jobs}
    try:
        for made in _parallel(jobs, workers, backend, scheduler):
            left.pop(made[0].score, None)
            yield made
    except TerminatedWorkerError:
        for job in left.values():
            yield from _alone(job)


def _alone(job: Job) -> Iterator[list[Row]]:
    from joblib.externals.loky.process_executor import TerminatedWorkerError

    try:
        # two workers, since joblib does a lone job in this process
        yield from _parallel([job], 2, "loky", None)
    except TerminatedWorkerError:
        why = "the process died, perhaps for want of memory"
        yield [Row(job.found.name, style, job.what, "fault", error=why) for style in job.styles]


def _parallel(jobs: Iterable[Job], workers: int, backend: str | None, scheduler: str | None) -> Iterator[list[Row]]:
    from joblib import Parallel, delayed

    with _engine(backend, scheduler):
        yield from Parallel(n_jobs=workers, return_as="generator_unordered")(delayed(run_job)(job) for job in jobs)


def _engine(backend: str | None, scheduler: str | None) -> AbstractContextManager[object]:
    from joblib import parallel_config

    if backend is None:
        return nullcontext()
    more = {"scheduler_host": scheduler} if scheduler else {}
    try:
        engine: AbstractContextManager[object] = parallel_config(backend=backend, **more)
    except (ValueError, ImportError) as error:
        raise UsageError(f"--on {backend}: {' '.join(str(error).split())}") from None
    return engine
