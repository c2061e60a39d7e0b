"""A player's own text files (plans, styles, charts, sets, cents), read within limits.

Such a file may come from anybody. It is read whole only where it is an ordinary file of at most `MAX_BYTES`; its tables
may not be nested beyond what the parser's stack holds, nor its keys beyond `MAX_KEY_PARTS`, since the parser takes the
square of their number.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from appui.errors import InputError
from appui.given import give

__all__ = ["MAX_BYTES", "MAX_KEY_PARTS", "counted", "filled", "tables_of", "text_of"]

MAX_BYTES = 10_000_000
MAX_KEY_PARTS = 32
#  possessive, so that no text costs more than its length
_LONG_KEY = re.compile(rf"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){{{MAX_KEY_PARTS}}}""")


def text_of(
    path: Path,
    error: type[InputError],
    what: str,
    remedy: str,
    missing: str = "check the path",
    *,
    most_bytes: int = MAX_BYTES,
) -> str:
    """The text of a UTF-8 file, with a byte order mark or without; raises `error`, which says `what` the file is."""
    give(path)
    try:
        if path.exists() and not path.is_file():
            raise error(path, f"the {what} cannot be read: it is no ordinary file", remedy)
        size = path.stat().st_size
        if size > most_bytes:
            raise error(path, f"the {what} is larger than {most_bytes // 1_000_000} MB", remedy)
        # the system's own files (/proc) have no size, and reading some of them never ends
        return path.read_text(encoding="utf-8-sig") if size else ""
    except FileNotFoundError:
        raise error(path, f"there is no such {what}", missing) from None
    except (OSError, ValueError) as found:
        reason = getattr(found, "strerror", None) or found
        raise error(path, f"the {what} cannot be read ({reason})", remedy) from None


def tables_of(text: str, file: object, error: type[InputError]) -> dict[str, Any]:
    """The tables of a TOML text; raises `error` with the parser's words."""
    if found := _LONG_KEY.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise error(file, f"has a name of more than {MAX_KEY_PARTS} parts", "shorten it", place=f"line {line}")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as found:
        raise error(file, f"is no valid TOML: {found}", "correct that line") from None
    except RecursionError:
        raise error(file, "is no valid TOML for us: nested too deeply", "write it flat") from None
    except ValueError:
        raise error(file, "is no valid TOML for us: a number of too many digits", "shorten it") from None


def counted(number: int, noun: str) -> str:
    """A number and what is counted, in the singular where it is one.

    >>> counted(1, "ornament"), counted(2, "ornament")
    ('1 ornament', '2 ornaments')
    """
    return f"{number} {noun}{'' if number == 1 else 's'}"


def filled(frame: str, parts: Mapping[str, Iterable[str]]) -> Iterator[str]:
    """A frame with its parts put in, piece by piece: ``@@NAME@@`` stands for the part of that name.

    >>> "".join(filled("<p>@@WORDS@@</p>", {"WORDS": ["never @@searched@@"]}))
    '<p>never @@searched@@</p>'
    """
    # every second piece is a name, so what is put in is never searched for names
    for number, piece in enumerate(frame.split("@@")):
        yield from parts[piece] if number % 2 else [piece]
