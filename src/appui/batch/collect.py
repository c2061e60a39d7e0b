"""Which scores a batch works on, and under which names its outputs stand.

A folder stands for all scores in it and below, by suffix; a text file for the paths in it, a line each, `#` before what
is no path, relative paths from the list's own folder. An output is named after its score's path below the folder;
where two scores differ in their suffix alone, the suffix stays in the name.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from appui.errors import InputError, shown
from appui.notations.kinds import SUFFIXES
from appui.text import text_of

__all__ = ["SUFFIXES", "Found", "collect"]

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
        paths = list(_within(source))
        base = source
    else:
        paths, base = _listed(source), source.parent
    if not paths:
        raise InputError(source, "holds no score", f"give a folder with files in {', '.join(SUFFIXES)}, or a list")
    names = sorted({_name(path, base): path for path in paths}.items())
    stems = _stems([name for name, _ in names])
    return [Found(path, name, stem) for (name, path), stem in zip(names, stems, strict=True)]


def _within(folder: Path) -> Iterator[Path]:
    """The scores in a folder and below; links to folders are not followed, what vanishes meanwhile is left out."""
    for place, _, names in os.walk(folder):
        paths = (Path(place, name) for name in names)
        yield from (path for path in paths if path.suffix.lower() in SUFFIXES and path.is_file())


def _listed(source: Path) -> list[Path]:
    text = text_of(source, InputError, "list of scores", _REMEDY, _REMEDY)
    if "\0" in text:
        raise InputError(source, "is no text", _REMEDY)
    lines = [line.strip() for line in text.splitlines()]
    return [source.parent / line for line in lines if line and not line.startswith("#")]


def _name(path: Path, base: Path) -> str:
    try:
        return shown(path.resolve().relative_to(base.resolve()).as_posix())
    except ValueError:
        # a path outside the folder must not lead the outputs outside theirs
        return shown("/".join((_OUTSIDE, *(part for part in path.resolve().parts if part != path.resolve().anchor))))


def _stems(names: Sequence[str]) -> list[str]:
    def bare(name: str) -> str:
        return name[: -len(Path(name).suffix)] if Path(name).suffix else name

    count = Counter(bare(name).casefold() for name in names)
    return [name.replace(".", "_") if count[bare(name).casefold()] > 1 else bare(name) for name in names]
