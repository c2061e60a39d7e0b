"""The command `new`: a commented example in ABC, to be changed into one's own solo."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import WRITES, command
from appui.errors import OutputError, UsageError

__all__ = ["new"]


@command(epilog="Example: appui new solo.abc")
@click.argument("output", type=WRITES, metavar="SOLO.abc")
def new(output: Path) -> None:
    """Write an example to change into your solo, for a piece you have on paper only.

    It is eight bars for oboe in ABC, which is typed in any text editor, with remarks that say how notes, small notes,
    ornaments and chords are written. Change it bar by bar into your solo; `appui survey` says what it makes of it, and
    names line and column of what is mistyped. A file that is there already is left as it is.
    """
    from appui.abc.score import example
    from appui.sound.files import write_whole

    if output.suffix.lower() != ".abc":
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; name it .abc")
    if output.exists() or output.is_symlink():
        raise OutputError(output, "is there already and may be your work", "name another file")
    write_whole(output, example().replace("THIS_FILE", output.name).encode())
    click.echo(f"{output}  an example to change; see it with: appui survey {output}")
