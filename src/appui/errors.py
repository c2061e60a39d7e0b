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
import re

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
    "shortened",
    "shown",
    "writable",
]

#  a word of a message that nobody reads to its end, and what is left of it
_LONG_WORD = re.compile(r"\S{401,}")
_KEPT_BEFORE, _KEPT_AFTER = 300, 60
_MOST_LETTERS = 4000


def shown(name: object) -> str:
    r"""A name as it can be shown and written: a byte of it that is no UTF-8 stands as its number.

    Old archives hold such names; the system hands them on as code points that no text may have.

    >>> shown("caf\udce9.musicxml")
    'caf\\xe9.musicxml'
    """
    return str(name).encode(errors="surrogateescape").decode(errors="backslashreplace")


def writable(text: str) -> str:
    """A text that can be written as UTF-8: what no text may have stands as its number, as JSON writes it, too."""
    return text.encode(errors="backslashreplace").decode()


def shortened(message: str) -> str:
    """A message without the middle of a word of more than 400 letters, and without its end after 4,000."""
    short = _LONG_WORD.sub(lambda word: f"{word[0][:_KEPT_BEFORE]}…{word[0][-_KEPT_AFTER:]}", message)
    return short if len(short) <= _MOST_LETTERS else f"{short[:_MOST_LETTERS]}…"


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
        self.file, self.problem, self.remedy, self.place = shown(file), problem, remedy, place
        where = f"{self.file}, {place}" if place else self.file
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
