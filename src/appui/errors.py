"""Every error this project raises on purpose, each one sentence a player can act on.

    AppuiError
    ├── UsageError          words on the command line that cannot be meant (exit 2)
    └── InputError          something given to the tool cannot be used (exit 1)
        ├── ScoreError      a score file
        ├── PlaceError      a part, bar, place or reading that the score does not have
        ├── PlanError       a player's plan
        ├── ChartError      a player's chart of chords
        ├── StyleError      a style table
        ├── SoundError      a SoundFont, the synthesizer, an audio format
        ├── StoreError      a player's results of ear training
        └── OutputError     a file or folder that cannot be written

A message says what was expected, what came, where (file, part, bar, line), and what to do.
"""

from __future__ import annotations

import os

__all__ = [
    "AppuiError",
    "ChartError",
    "InputError",
    "OutputError",
    "PlaceError",
    "PlanError",
    "ScoreError",
    "SoundError",
    "StoreError",
    "StyleError",
    "UsageError",
    "memory_spent",
]


class AppuiError(Exception):
    """Root of the tree: anything this project refuses, with a message for the player."""

    exit_code = 1


class UsageError(AppuiError):
    """Words that cannot be meant, whatever the files."""

    exit_code = 2


class InputError(AppuiError):
    """Something given to the tool cannot be used: where, what, and the remedy.

    >>> print(InputError("a.xml", "holds no part", "export it again", place="line 3"))
    a.xml, line 3: holds no part. Remedy: export it again.
    """

    def __init__(self, file: object, problem: str, remedy: str = "", *, place: str = "") -> None:
        self.file, self.problem, self.remedy, self.place = str(file), problem, remedy, place
        where = f"{file}, {place}" if place else f"{file}"
        super().__init__(f"{where}: {problem}." + (f" Remedy: {remedy}." if remedy else ""))


class ScoreError(InputError):
    """A score file that cannot be read."""


class PlaceError(InputError):
    """A part, bar, place or reading that the score does not have."""


class PlanError(InputError):
    """A plan that does not fit its score or its own format."""


class ChartError(InputError):
    """A chart of chords that does not fit its score or its own format."""


class StyleError(InputError):
    """A style table that breaks its format."""


class SoundError(InputError):
    """No synthesizer, no usable SoundFont, or a format that cannot be written."""


class StoreError(InputError):
    """A database or an export of drill results that cannot be used."""


class OutputError(InputError):
    """A file or folder that cannot be written; what was there before is untouched."""


def memory_spent(what: str = "this") -> str:
    """The sentence for a `MemoryError`: what took more than there is, how much that is, and what to do."""
    return (
        f"{what} needs more memory than there is ({_memory_words()}). "
        "Remedy: take a passage with --bars, or split the score into movements."
    )


def _memory_words() -> str:
    try:
        import resource

        limit = resource.getrlimit(resource.RLIMIT_AS)[0]
        if limit != resource.RLIM_INFINITY:
            return f"the limit set for this process is {limit / 1e9:.1f} GB"
    except ImportError:
        pass
    try:
        return f"this computer has {os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 1e9:.1f} GB"
    except (AttributeError, ValueError, OSError):
        return "no limit is set for this process"
