"""The engraver in a process of its own: it is C++, and an odd score can bring it down.

The process is forked, so nothing is loaded twice; where a system cannot fork (Windows) the work is done here.
"""

from __future__ import annotations

import faulthandler
import json
import os
import signal
import warnings
from collections.abc import Callable, Sequence

from appui.errors import ScoreError, memory_spent

__all__ = ["LIMIT_S", "Work", "engrave_all", "engrave_apart"]

Work = Callable[[], list[str]]

#  of computing; a long movement takes some seconds
LIMIT_S = 120
_FULL = 2


def engrave_apart(work: Work, file: str) -> list[str]:
    """The texts `work` makes; raises `ScoreError` naming the file where its process ends without them."""
    return engrave_all([work], file)[0]


def engrave_all(works: Sequence[Work], file: str) -> list[list[str]]:
    """The texts each work makes, all at the same time; raises as `engrave_apart` does."""
    if not hasattr(os, "fork"):
        return [work() for work in works]
    begun = [_begun(work) for work in works]
    # every process is heard to its end before a fault of one is told
    ends = [_heard(child, read) for child, read in begun]
    for status, said in ends:
        if status != 0 or not said:
            raise _ended(status, file)
    return [json.loads(said) for _, said in ends]


def _begun(work: Work) -> tuple[int, int]:
    """A process for some work: its number, and where it is to be read."""
    read, write = os.pipe()
    with warnings.catch_warnings():
        # of threads that are not in the child: it does nothing but engrave
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        os.close(read)
        _give(work, write)
    os.close(write)
    return child, read


def _heard(child: int, read: int) -> tuple[int, str]:
    """How a process ended and what it gave."""
    with os.fdopen(read, encoding="utf-8") as stream:
        said = stream.read()
    return os.waitpid(child, 0)[1], said


def _ended(status: int, file: str) -> ScoreError | MemoryError:
    """The error for a process that ended without a result, by the status it left."""
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) == _FULL:
        return MemoryError(memory_spent(f"engraving {file}"))
    how = signal.Signals(os.WTERMSIG(status)).name if os.WIFSIGNALED(status) else "an error"
    if how in ("SIGXCPU", "SIGKILL"):
        return ScoreError(
            file,
            f"takes the engraver more than {LIMIT_S} s of computing, the limit, or more memory than there is ({how})",
            "take a passage with --bars, or split the score",
        )
    return ScoreError(file, f"brings the engraver down ({how})", "export the score again, or leave the odd bars out")


def _give(work: Work, write: int) -> None:
    """In the child: hand over what is made and end, whatever happens, without what the parent does at its end."""
    status = 1
    faulthandler.disable()  # the parent says what happened
    try:
        _limit()
        with os.fdopen(write, "w", encoding="utf-8") as stream:
            json.dump(work(), stream)
        status = 0
    except MemoryError:
        status = _FULL
    finally:
        os._exit(status)


def _limit() -> None:
    try:
        import resource
    except ImportError:
        return
    # what the child takes counts, not what was taken before; nobody may go beyond a limit there is
    hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
    most_s = LIMIT_S if hard == resource.RLIM_INFINITY else min(LIMIT_S, hard)
    # a second more for the hard limit: at the soft one the system says which limit it was
    last_s = most_s + 1 if hard == resource.RLIM_INFINITY else min(most_s + 1, hard)
    resource.setrlimit(resource.RLIMIT_CPU, (most_s, last_s))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
