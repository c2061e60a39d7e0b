"""What the benchmarks share: processes run in turn and measured whole, the machine they ran on, the scores they read.

A process is measured from its start to its end, or what it measures of itself where it is `Inside`: seconds by the
clock, seconds of processor time and the most memory that it or one of its children held at once (`wait4`). Contenders
take turns, a b c a b c, so that a noisy machine is noisy for all. The caches of this tool are off.
"""

from __future__ import annotations

import compileall
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

Contenders = Mapping[str, Sequence[Sequence[str]]]
"""The commands of each contender, run one after another."""


def _package(name: str) -> Path:
    """The folder of a package that is installed, without importing it."""
    spec = find_spec(name)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent


CORPUS = _package("music21") / "corpus"
#  three long movements and a short one, in which starting counts most: name in a table, file
MOVEMENTS = {
    "Beethoven op. 18 no. 1, i": CORPUS / "beethoven/opus18no1/movement1.mxl",
    "Beethoven op. 59 no. 2, i": CORPUS / "beethoven/opus59no2/movement1.mxl",
    "Beethoven op. 133": CORPUS / "beethoven/opus133.mxl",
    "C. Schumann op. 17, iii": CORPUS / "schumann_clara/opus17/movement3.xml",
}
APPUI = (sys.executable, "-m", "appui", "--no-cache")
#  24-bit 44.1 kHz stereo WAV with reverb, without chorus, at gain 0.5, as this tool renders
FLUIDSYNTH = tuple("fluidsynth -ni -R 1 -C 0 -g 0.5 -r 44100 -T wav -O s24".split())
LIBRARIES = "music21 partitura verovio pyfluidsynth lxml numpy".split()
_UNIT = 1 if sys.platform == "darwin" else 1024  # of ru_maxrss, bytes


class Inside(tuple[str, ...]):
    """A command that measures a part of what it does, and prints its seconds by the clock and of processor time."""

    __slots__ = ()


@dataclass(frozen=True)
class Run:
    """One process: seconds by the clock, of processor time, and peak memory in MiB."""

    clock_s: float
    processor_s: float
    memory_mib: float


class RunError(Exception):
    """A process that did not end well; what it said."""


def run(command: Sequence[str], cores: int | None = None) -> Run:
    """Run a command to its end, held to so many cores; `RunError` with its own words where it fails."""
    with held_to(cores), tempfile.TemporaryFile() as words, tempfile.TemporaryFile() as complaints:
        started = time.perf_counter()
        process = subprocess.Popen(list(command), stdout=words, stderr=complaints, env=_environment())
        _, status, used = os.wait4(process.pid, 0)
        took, processor_s = time.perf_counter() - started, used.ru_utime + used.ru_stime
        process.returncode = os.waitstatus_to_exitcode(status)
        for told in (words, complaints):
            told.seek(0)
        if status:
            raise RunError(f"{' '.join(command)}\n{complaints.read().decode(errors='replace')[-500:]}")
        if isinstance(command, Inside):
            took, processor_s = map(float, words.read().split())
    return Run(took, processor_s, used.ru_maxrss * _UNIT / 2**20)


@lru_cache
def _environment() -> dict[str, str]:
    """Caches off; this tool's modules compiled beforehand, as those of an installed package are."""
    compileall.compile_dir(_package("appui"), quiet=1)
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "APPUI_CACHE": "off"}


@contextmanager
def held_to(cores: int | None) -> Iterator[None]:
    """This process, and so what it starts meanwhile, on so many cores; on Linux only."""
    if cores is None:
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, sorted(before)[:cores])
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


def together(runs: Iterable[Run]) -> Run:
    """Processes one after another as one."""
    each = list(runs)
    clock, processor = sum(one.clock_s for one in each), sum(one.processor_s for one in each)
    return Run(clock, processor, max(one.memory_mib for one in each))


def median(runs: Sequence[Run]) -> Run:
    """The medians of several runs, and the highest of their peaks."""
    clock, processor = (statistics.median(getattr(one, name) for one in runs) for name in ("clock_s", "processor_s"))
    return Run(clock, processor, max(one.memory_mib for one in runs))


def in_turn(
    contenders: Contenders, runs: int, cores: int | None = None, before: Callable[[], None] = lambda: None
) -> dict[str, Run | None]:
    """The medians of contenders that take turns, `None` for one that fails; `before` is called before each turn."""
    taken: dict[str, list[Run]] = {name: [] for name in contenders}
    failed: dict[str, None] = {}
    for _ in range(runs):
        for name in [each for each in contenders if each not in failed]:
            before()
            try:
                taken[name].append(together(run(command, cores) for command in contenders[name]))
            except RunError as error:
                print(error, file=sys.stderr)
                failed[name] = None
    return {name: median(each) for name, each in taken.items() if name not in failed} | failed


def machine() -> str:
    """Processor, cores, system, Python and libraries, as the machine itself names them, and how busy it is."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    libraries = ", ".join(f"{name} {_version(name)}" for name in LIBRARIES)
    load = f"load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "load unknown"
    hardware = f"{_processor()}, {cores} cores, {platform.system()}"
    return f"{hardware}, Python {platform.python_version()}, {_fluidsynth()}, {libraries}; {load} at the start"


def _processor() -> str:
    told = Path("/proc/cpuinfo")
    lines = told.read_text(encoding="utf-8").splitlines() if told.exists() else []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.processor() or platform.machine()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"


def _fluidsynth() -> str:
    try:
        told = subprocess.run(["fluidsynth", "--version"], check=True, capture_output=True, text=True).stdout
    except FileNotFoundError:
        return "no fluidsynth"
    return f"fluidsynth {told.split('version', 1)[1].split()[0]}"
