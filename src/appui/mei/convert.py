"""Humdrum to MEI by verovio, in a process of its own with limits on time and memory.

verovio is C++, and an odd file can bring it down or keep it busy for ever. Memory is limited where the system has such
limits (not on Windows).
"""

from __future__ import annotations

import re
import signal
import subprocess
import sys

from appui.errors import ScoreError

__all__ = ["LIMIT_BYTES", "LIMIT_S", "humdrum_to_mei"]

LIMIT_S = 120
LIMIT_BYTES = 2 * 1024**3
_EXPORT = "correct it, or export the score as MusicXML"
_REFUSED, _FULL = 3, 4
#  what the library and the system say where memory ends
_MEMORY = ("bad_alloc", "allocate memory", "MemoryError", "failed to map segment")
_PLACE = re.compile(r"line (\d+)[^\n]*\n?\s*([^\n]*)")


def humdrum_to_mei(text: str, name: str) -> bytes:
    """The MEI text of a Humdrum score; raises `ScoreError` where verovio cannot read it within the limits."""
    command = [sys.executable, "-m", "appui.mei.convert"]
    try:
        done = subprocess.run(command, input=text.encode(), capture_output=True, timeout=LIMIT_S, check=False)  # noqa: S603 - our own module
    except subprocess.TimeoutExpired:
        raise _too_long(name) from None
    words = done.stderr.decode("utf-8", "replace")
    if done.returncode == 0:
        return done.stdout
    if done.returncode == _FULL or any(said in words for said in _MEMORY):
        raise ScoreError(
            name, f"needs more than {LIMIT_BYTES // 1024**3} GB of memory to read", "split it into movements"
        )
    if -done.returncode in (getattr(signal, "SIGXCPU", 0), getattr(signal, "SIGKILL", 0)) and done.returncode < 0:
        raise _too_long(name)
    raise _unread(name, words, done.returncode)


def _too_long(name: str) -> ScoreError:
    return ScoreError(name, f"takes longer than {LIMIT_S} s to read as Humdrum, the limit", "split it into movements")


def _unread(name: str, words: str, status: int) -> ScoreError:
    found = _PLACE.search(words)
    if found is not None:
        reason = " ".join(found[2].split())[:200] or "its rhythm does not come out"
        return ScoreError(name, f"cannot be read as Humdrum ({reason})", _EXPORT, place=f"line {found[1]}")
    how = signal.Signals(-status).name if status < 0 else "no music found"
    return ScoreError(name, f"cannot be read as Humdrum ({how})", _EXPORT)


def _limit() -> None:
    try:
        import resource
    except ImportError:
        return
    for what, wanted in ((resource.RLIMIT_AS, LIMIT_BYTES), (resource.RLIMIT_CPU, LIMIT_S), (resource.RLIMIT_CORE, 0)):
        hard = resource.getrlimit(what)[1]
        # nobody may go beyond a limit there is
        most = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        resource.setrlimit(what, (most, most))


def _convert(text: str) -> bytes | None:
    """What verovio makes of a Humdrum text; `None` where it finds no music in it."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    # one system for all: nothing is laid out twice. The numbers of ids are drawn from the text: same text, same ids
    toolkit.setOptions({"inputFrom": "humdrum", "breaks": "none", "expandNever": True, "xmlIdChecksum": True})
    if not toolkit.loadData(text):
        return None
    return bytes(toolkit.getMEI({"scoreBased": True}).encode())


def _is_full() -> bool:
    """Whether the process has come near its limit: the library may end without a result, and without saying why."""
    try:
        with open("/proc/self/status", encoding="ascii") as status:  # noqa: PTH123 - one line of the system's
            peak = next(int(line.split()[1]) * 1024 for line in status if line.startswith("VmPeak"))
    except (OSError, StopIteration, ValueError):
        return False
    return peak > LIMIT_BYTES // 2


def _run() -> int:
    _limit()
    try:
        found = _convert(sys.stdin.buffer.read().decode())
        if found is None or b"<measure" not in found:
            return _FULL if _is_full() else _REFUSED
        sys.stdout.buffer.write(found)
    except MemoryError:
        return _FULL
    return 0


if __name__ == "__main__":
    sys.exit(_run())
