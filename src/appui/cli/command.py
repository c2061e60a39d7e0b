"""What all commands keep to: no input is written over, no two outputs are one file, nothing typed is passed over.

A command says of each word that names a file whether it is read (`READS`) or written (`WRITES`, `WRITES_TEXT`); the
rest is the same for all of them.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from appui.errors import OutputError, UsageError, shown
from appui.given import give, guarded, identity, was_given
from appui.manual.pages import PAGES, SEE

__all__ = ["READS", "REPLACE", "WRITES", "WRITES_TEXT", "command"]


class _File(click.Path):
    """A file or folder that is named on the command line."""

    def __init__(self, *, written: bool = False, editable: bool = False) -> None:
        super().__init__(path_type=Path)
        self.written = written
        self.editable = editable


READS = _File()
WRITES = _File(written=True)
#  a text that a player may edit afterwards: see `sound.files.write_editable`
WRITES_TEXT = _File(written=True, editable=True)
REPLACE = click.option(
    "--replace",
    is_flag=True,
    help="Write over a file that was edited by hand; what was there is kept beside it as NAME.before.",
)


class _Command(click.Command):
    """A command that loses no file of its user's."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Words into values; raises click's error where an option stands twice and one of them would be lost."""
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        for parameter, times in Counter(order).items():
            if times > 1 and isinstance(parameter, click.Option) and not parameter.multiple and not parameter.is_flag:
                raise click.UsageError(f"{parameter.opts[0]} stands there {times} times: it can be said once", ctx)
        left = super().parse_args(ctx, args)
        for parameter in self.params:
            if not isinstance(parameter.type, _File):
                _check_text(parameter, ctx.params.get(parameter.name or ""), ctx)
        return left

    def invoke(self, ctx: click.Context) -> Any:
        """Run it, with its inputs known and its outputs checked."""
        with guarded():
            _check(ctx)
            return super().invoke(ctx)


def command(**settings: Any) -> Callable[[Callable[..., Any]], click.Command]:
    """A command of appui's, made of a function as click does it; its help ends with the page of the manual about it."""

    def decorate(function: Callable[..., Any]) -> click.Command:
        epilog = "\n\n".join(filter(None, (settings.get("epilog"), _more(function.__name__))))
        return click.command(cls=_Command, **settings | {"epilog": epilog})(function)

    return decorate


def _more(name: str) -> str:
    """Where more is told about a command."""
    page = name if name in PAGES else SEE.get(name, "")
    return f"More: `appui manual {page}`." if page else ""


def _check_text(parameter: click.Parameter, value: object, ctx: click.Context) -> None:
    """Raises click's error for words that are no UTF-8: no name, no seed and no reading is made of such bytes."""
    for word in value if isinstance(value, tuple) else (value,):
        if isinstance(word, str) and shown(word) != word:
            raise click.BadParameter(f"{shown(word)!r} is no text in UTF-8", ctx, parameter)


def _check(ctx: click.Context) -> None:
    """Raises `OutputError` for an output that is an input, `UsageError` for two outputs that are one file."""
    for _, path in _named(ctx, written=False):
        give(path)
    # a text of the player's own may be worked on: then what was there is kept beside it
    replace = bool(ctx.params.get("replace"))
    there: dict[object, Path] = {}
    for kind, path in _named(ctx, written=True):
        if path.is_file() and was_given(path) and not (kind.editable and replace and not _is_score(path, ctx)):
            raise OutputError(path, "is a file this command reads: it would be lost", "give another name")
        if (first := there.setdefault(identity(path) or os.path.realpath(path), path)) is not path:
            which = f"{first} stands there twice" if first == path else f"{first} and {path} are one file"
            raise UsageError(f"{which}, and only one of them could stay: give each its own name")


def _is_score(path: Path, ctx: click.Context) -> bool:
    score = ctx.params.get("score")
    return isinstance(score, Path) and identity(score) == identity(path)


def _named(ctx: click.Context, *, written: bool) -> Iterator[tuple[_File, Path]]:
    for parameter in ctx.command.params:
        if isinstance(kind := parameter.type, _File) and kind.written is written:
            value = ctx.params.get(parameter.name or "")
            for path in value if isinstance(value, tuple) else (value,):
                if isinstance(path, Path):
                    yield kind, path
