"""Tracks of one set brought to one loudness and written: files, tags, and an index that says what is up to date.

The gain is one for all audio of a set: the loudest track comes to -23 LUFS, unless that would bring a true peak above
-1 dBTP (-2 for lossy formats). A track is known by everything it is made from; where the index already has it, with
the same gain and its file unchanged in size, it is left alone; so tracks of a set are not forced to the disk one by
one. The index is written every second and when the run ends or is stopped, so that the next goes on where it was.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from appui.practice.mix import Mixer
from appui.practice.tag import tag_of
from appui.practice.track import Track, whole_performance
from appui.scratch import scratch
from appui.sound.files import write_whole
from appui.sound.formats import LOSSY
from appui.sound.loudness import TRUE_PEAK_DBTP, Loudness, gain_for
from appui.sound.sections import workers

__all__ = ["Done", "Job", "deliver", "read_index"]

Say = Callable[[str], None]
MIDI = (".mid", ".midi")
_SAME_DB = 0.005
_LOUDEST_DB = 1e9  # nan is not below it
INDEX_S = 1.0
#  a track that comes so near to the ceiling is measured whole
NEAR_CEILING_DB = 2.0


@dataclass(frozen=True, slots=True)
class Job:
    """One track to write: its files (audio or MIDI), what it is made from (`digest`), title and words for its tags."""

    track: Callable[[], Track]
    outputs: tuple[Path, ...]
    digest: str = ""
    title: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Done:
    """One track as the index has it: its files with their sizes in bytes, loudness and true peak before the gain.

    `changes` tells the signs that are read in two ways.
    """

    title: str
    words: str
    digest: str
    files: dict[str, int]
    lufs: float | None = None
    peak_dbtp: float | None = None
    gain_db: float | None = None
    length_s: float = 0.0
    changes: tuple[str, ...] | list[str] = ()

    @property
    def loudness(self) -> Loudness:
        """Loudness before the gain; silence where none was found."""
        return Loudness(*(float("-inf") if each is None else each for each in (self.lufs, self.peak_dbtp)))


def deliver(
    jobs: Sequence[Job],
    soundfont: Path | None = None,
    *,
    index: Path | None = None,
    say: Say = lambda words: None,
) -> list[Done]:
    """Write what is not up to date; returns all tracks of the set. Raises the errors of rendering and writing."""
    run = _Run(jobs, soundfont, index, say)
    return run.run()


class _Run:
    """One run over a set."""

    def __init__(self, jobs: Sequence[Job], soundfont: Path | None, index: Path | None, say: Say) -> None:
        self.jobs, self.soundfont, self.index, self.say = jobs, soundfont, index, say
        known = {done.digest: done for done in read_index(index)} if index else {}
        self.done = [known.get(job.digest) if job.digest else None for job in jobs]
        self.tracks: dict[int, Track] = {}
        self._listed_s = 0.0

    def run(self) -> list[Done]:
        with scratch() as folder:
            mixer = Mixer(folder, self.soundfont)
            self._measure(mixer)
            gain_db = self._gain()
            stale = [number for number in range(len(self.jobs)) if not self._is_fresh(number, gain_db)]
            # a track measured in an earlier run may have to be written again, at another gain
            if stale:
                self._write_all(mixer, stale, gain_db)
        if stale or self._listed_otherwise():
            self._write_index()
        return [done for done in self.done if done is not None]

    def _write_all(self, mixer: Mixer, stale: Sequence[int], gain_db: float) -> None:
        # all that can be refused is refused before anything is written
        tracks = {number: self._track(number) for number in stale}
        mixer.render(track for number, track in tracks.items() if self._audio(number))
        with ThreadPoolExecutor(workers()) as pool:
            futures = {pool.submit(self._write, mixer, number, gain_db): number for number in stale}
            try:
                for future in as_completed(futures):
                    self.done[futures[future]] = future.result()
                    self._write_index(now=False)
                    self.say(f"written: {self.jobs[futures[future]].title}")
            except BaseException:
                pool.shutdown(cancel_futures=True)
                self._write_index()
                raise

    def _measure(self, mixer: Mixer) -> None:
        unknown = [n for n, job in enumerate(self.jobs) if self._audio(n) and self.done[n] is None]
        if not unknown:
            return
        mixer.render((self._track(number) for number in unknown), self.say)
        self._note(unknown, mixer, whole=False)
        room_db = self._ceiling_dbtp() - NEAR_CEILING_DB - self._gain()
        near = [n for n in unknown if (done := self.done[n]) is not None and done.loudness.peak_dbtp > room_db]
        self._note(near, mixer, whole=True)
        self._write_index()

    def _note(self, numbers: Sequence[int], mixer: Mixer, *, whole: bool) -> None:
        def heard(number: int) -> Loudness:
            return mixer.measure(self._track(number), whole=whole)

        with ThreadPoolExecutor(workers()) as pool:
            for number, found in zip(numbers, pool.map(heard, numbers), strict=True):
                job = self.jobs[number]
                lufs, peak_dbtp = (each if each > float("-inf") else None for each in (found.lufs, found.peak_dbtp))
                self.done[number] = Done(job.title, job.words, job.digest, {}, lufs, peak_dbtp)

    def _gain(self) -> float:
        heard = [done.loudness for number, done in enumerate(self.done) if done is not None and self._audio(number)]
        # rounded down, so that the same set has the same gain again and none is above the ceiling
        return math.floor(100 * gain_for(heard, peak_dbtp=self._ceiling_dbtp())) / 100

    def _ceiling_dbtp(self) -> float:
        return TRUE_PEAK_DBTP - any(path.suffix.lower() in LOSSY for job in self.jobs for path in job.outputs)

    def _audio(self, number: int) -> list[Path]:
        return [path for path in self.jobs[number].outputs if path.suffix.lower() not in MIDI]

    def _track(self, number: int) -> Track:
        if number not in self.tracks:
            self.tracks[number] = self.jobs[number].track()
        return self.tracks[number]

    def _is_fresh(self, number: int, gain_db: float) -> bool:
        done = self.done[number]
        if done is None or not done.files or set(done.files) != {path.name for path in self.jobs[number].outputs}:
            return False
        if self._audio(number) and (done.gain_db is None or abs(done.gain_db - gain_db) > _SAME_DB):
            return False
        return all(
            path.is_file() and path.stat().st_size == done.files[path.name] for path in self.jobs[number].outputs
        )

    def _write(self, mixer: Mixer, number: int, gain_db: float) -> Done:
        from appui.sound.midi import write_midi

        job, track = self.jobs[number], self._track(number)
        for path in job.outputs:
            if path.suffix.lower() in MIDI:
                write_midi(replace(whole_performance(track), title=job.title or track.title), path)
            else:
                mixer.write(track, path, gain_db, _tags(job, track, number), flushed=self.index is None)
        before = self.done[number] or Done(job.title, job.words, job.digest, {})
        sizes = {path.name: path.stat().st_size for path in job.outputs}
        return replace(
            before,
            files=sizes,
            gain_db=gain_db if self._audio(number) else None,
            length_s=round(track.length_s, 3),
            changes=track.changes,
        )

    def _listed_otherwise(self) -> bool:
        return self.index is not None and [done.digest for done in read_index(self.index)] != [
            job.digest for job in self.jobs
        ]

    def _write_index(self, *, now: bool = True) -> None:
        """Write the index; not `now`, only where the last is old: each time the disk has to put its own in order."""
        if self.index is not None and (now or time.monotonic() - self._listed_s > INDEX_S):
            self._listed_s = time.monotonic()
            tracks = [asdict(done) for done in self.done if done is not None]
            text = json.dumps({"tracks": tracks}, ensure_ascii=False, indent=1) + "\n"
            write_whole(self.index, text.encode(), flushed=False)


def _tags(job: Job, track: Track, number: int) -> dict[str, str]:
    comment = "; ".join(filter(None, (job.words, tag_of(track))))
    tags = {"title": job.title, "artist": track.part, "album": track.score, "comment": comment}
    return {name: text for name, text in tags.items() if text} | {"tracknumber": str(number + 1)}


def read_index(path: Path) -> list[Done]:
    """The tracks of an index; none where it is missing or not one of ours, so that everything is made again."""
    try:
        if not path.is_file():
            return []
        found = [Done(**each) for each in json.loads(path.read_text(encoding="utf-8"))["tracks"]]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []
    return found if all(map(_is_ours, found)) else []


def _is_ours(done: Done) -> bool:
    """Whether what an index says can be reckoned with: it lies in a folder that may come from anybody."""
    numbers = [number for number in (done.lufs, done.peak_dbtp, done.gain_db) if number is not None]
    return (
        isinstance(done.digest, str)
        and isinstance(done.files, dict)
        and all(type(number) in (int, float) and abs(number) < _LOUDEST_DB for number in (*numbers, done.length_s))
    )
