"""Work that takes long: files made by the other commands, each in a process of its own that can be stopped.

What runs is `appui` itself with the words a player would type, so a track made here is the track `appui practice`
makes. At most `AT_ONCE` run, the others wait; a file appears whole or not at all, as those commands write it.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock, Thread
from typing import Any

from appui.errors import PlaceError, UsageError
from appui.sound.files import make_folder

__all__ = ["AT_ONCE", "Job", "Jobs"]

AT_ONCE, WAITING = 2, 12
_TOLD = 4000
#  how a process's end is called: 0 done; by us stopped; else the words it left
_STOPPED = "stopped"


@dataclass
class Job:
    """One piece of work. `state` is ``waiting``, ``running``, ``done``, ``failed`` or ``stopped``."""

    number: int
    words: str
    arguments: tuple[str, ...]
    output: Path
    state: str = "waiting"
    said: str = ""
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    def record(self) -> dict[str, Any]:
        """What the browser is told."""
        return {
            "number": self.number,
            "words": self.words,
            "state": self.state,
            "said": self.said,
            "file": self.output.name if self.state == "done" else "",
            "where": str(self.output.parent) if self.state == "done" else "",
        }


class Jobs:
    """The work there is; `close` it at the end, which stops what runs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = Lock()
        self._jobs: dict[int, Job] = {}

    def start(self, words: str, name: str, arguments: Sequence[str]) -> Job:
        """Begin work whose file is to be called `name`; ``{out}`` in the arguments stands for it.

        Raises `UsageError` where too much waits already, `OutputError` where no file can be made.
        """
        with self._lock:
            if sum(job.state in ("waiting", "running") for job in self._jobs.values()) >= AT_ONCE + WAITING:
                raise UsageError("enough is being made already: wait, or stop something")
            make_folder(self.folder)
            output = self._free(name)
            asked = tuple(each.replace("{out}", str(output)) for each in arguments)
            job = Job(len(self._jobs) + 1, words, asked, output)
            self._jobs[job.number] = job
            self._begin()
        return job

    def _free(self, name: str) -> Path:
        stem, suffix = Path(name).stem, Path(name).suffix
        taken = {job.output for job in self._jobs.values() if job.state in ("waiting", "running")}
        numbers = range(1, 10_000)
        paths = (self.folder / f"{stem}{f' {number}' if number > 1 else ''}{suffix}" for number in numbers)
        return next(path for path in paths if not path.exists() and path not in taken)

    def _begin(self) -> None:
        """Start what waits, as far as there is room; the lock is held."""
        for job in self._jobs.values():
            running = sum(each.state == "running" for each in self._jobs.values())
            if job.state == "waiting" and running < AT_ONCE:
                job.state = "running"
                job.process = subprocess.Popen(  # noqa: S603 - our own program, its words made by `asked`
                    [sys.executable, "-m", "appui", *job.arguments],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.STDOUT,
                    text=True,
                    encoding="utf-8",
                    errors="replace",
                )
                Thread(target=self._wait, args=(job,), daemon=True).start()

    def _wait(self, job: Job) -> None:
        process = job.process
        assert process is not None
        said, _ = process.communicate()
        with self._lock:
            job.said = said.strip()[-_TOLD:]
            if job.state == "running":
                job.state = "done" if process.returncode == 0 and job.output.exists() else "failed"
            self._begin()

    def job(self, number: int) -> Job:
        """The work of a number; raises `PlaceError`."""
        if number not in self._jobs:
            raise PlaceError("stand", f"there is no work number {number}", "look at the list again")
        return self._jobs[number]

    def stop(self, number: int) -> Job:
        """End work, or take it out of the line."""
        job = self.job(number)
        with self._lock:
            if job.state in ("waiting", "running"):
                job.state = _STOPPED
                if job.process is not None:
                    job.process.terminate()
            self._begin()
        return job

    def records(self) -> list[dict[str, Any]]:
        """All work, the newest first."""
        return [job.record() for job in reversed(self._jobs.values())]

    def close(self) -> None:
        """Stop everything."""
        for number in list(self._jobs):
            self.stop(number)
