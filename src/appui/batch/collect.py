"""Which scores a batch works on, and under which names its outputs stand.

A folder stands for all scores in it and below, by suffix; a text file for the paths in it, a line each, `#` before what
is no path, relative paths from the list's own folder. An output is named after its score's path below the folder;
where two scores differ in their suffix alone, the suffix stays in the name.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from appui.errors import InputError

__all__ = ["SUFFIXES", "Found", "collect"]

SUFFIXES = (".musicxml", ".xml", ".mxl", ".krn", ".abc", ".mei")
_OUTSIDE = "elsewhere"
_REMEDY = "give a folder, or a text file with a path a line"


class Found(NamedTuple):
    """A score: where it is, what the report calls it, and the stem of its outputs, both below the batch's folders."""

    path: Path
    name: str
    stem: str


def collect(source: Path) -> list[Found]:
    """The scores of a folder or a list, by name, each once; raises `InputError` where there are none."""
    if source.is_dir():
        paths = [path for path in source.rglob("*") if path.suffix.lower() in SUFFIXES and path.is_file()]
        base = source
    else:
        paths, base = _listed(source), source.parent
    if not paths:
        raise InputError(source, "holds no score", f"give a folder with files in {', '.join(SUFFIXES)}, or a list")
    names = sorted({_name(path, base): path for path in paths}.items())
    stems = _stems([name for name, _ in names])
    return [Found(path, name, stem) for (name, path), stem in zip(names, stems, strict=True)]


def _listed(source: Path) -> list[Path]:
    try:
        text = source.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "is no UTF-8 text"
        raise InputError(
            source, f"cannot be read ({why})", "give a folder, or a text file with a path a line"
        ) from None
    if "\0" in text:
        raise InputError(source, "is no text", "give a folder, or a text file with a path a line")
    lines = [line.strip() for line in text.splitlines()]
    return [source.parent / line for line in lines if line and not line.startswith("#")]


def _name(path: Path, base: Path) -> str:
    try:
        return path.resolve().relative_to(base.resolve()).as_posix()
    except ValueError:
        # a path outside the folder must not lead the outputs outside theirs
        return "/".join((_OUTSIDE, *(part for part in path.resolve().parts if part != path.resolve().anchor)))


def _stems(names: Sequence[str]) -> list[str]:
    def bare(name: str) -> str:
        return name[: -len(Path(name).suffix)] if Path(name).suffix else name

    count = Counter(bare(name).casefold() for name in names)
    return [name.replace(".", "_") if count[bare(name).casefold()] > 1 else bare(name) for name in names]
