"""The command line: words typed become calls into the rooms. Nothing heavy is loaded before a command runs.

Exit status: 0 done, 1 something given cannot be used, 2 words that cannot be meant.
"""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys
import threading
from contextlib import suppress
from importlib import import_module

import click

from appui import __version__
from appui.errors import AppuiError, memory_spent, shortened

__all__ = ["cli", "main", "run"]

CAUTION = (
    "Hearing: start with the volume low; no program can know how loud it is at your ear. Strain: rest before it hurts. "
    "The tool advises: your teacher, the edition and your ear decide."
)


FIRST_STEPS = """appui judges the ornaments of a solo by the harmony of the other parts,
and lets you hear and practise them.

1. What is there, and why:    appui survey SCORE
2. Hear one way and another:  appui compare SCORE heard
3. Play along:                appui practice SCORE along.wav --tempo 60%

SCORE is a file in MusicXML, MEI, ABC or Humdrum. No score at hand? `appui demo`
makes one. Only paper? `appui new solo.abc` writes an example to type from.
`appui --help` lists all commands, `appui manual` the pages of the manual."""


#  a module each, named as the command, loaded when it is asked for; in the order a player meets them
_COMMANDS = (
    "survey",
    "compare",
    "render",
    "practice",
    "play",
    "click",
    "stand",
    "page",
    "notate",
    "embellish",
    "drill",
    "record",
    "listen",
    "progress",
    "styles",
    "accompany",
    "new",
    "batch",
    "demo",
    "manual",
)


class _Group(click.Group):
    """Commands in the order a player meets them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"appui.cli.{cmd_name}"), cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in _COMMANDS and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], _COMMANDS, n=1)
            ctx.fail(f"there is no command {args[0]!r}." + (f" Is `appui {near[0]}` meant?" if near else ""))
        return super().resolve_command(ctx, args)


@click.group(
    cls=_Group,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110},
    epilog=CAUTION,
)
@click.version_option(__version__, prog_name="appui")
@click.option("--cache/--no-cache", default=True, help="Keep what is read and rendered for the next time, or do not.")
@click.pass_context
def cli(ctx: click.Context, cache: bool) -> None:
    """Ornaments in solos of 1700-1830: judged by the harmony, played, heard and practised.

    Begin with `appui survey SCORE`, hear the doubtful places with `appui compare SCORE FOLDER`, then practise with
    `appui practice SCORE along.wav --tempo 60%`. `appui manual` tells the rest.
    """
    if ctx.invoked_subcommand is None:
        click.echo(FIRST_STEPS)
    if not cache:
        # processes that are started inherit it
        os.environ["APPUI_CACHE"] = "off"


def main() -> None:
    """Entry point: what goes wrong becomes one sentence on standard error."""
    # a score is tens of thousands of small objects without cycles: collecting seldom saves a third of the time
    gc.set_threshold(200_000, 20, 100)
    # the matrices are small: numpy's threads would wait for one another longer than they work
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _open_streams()
    try:
        cli(prog_name="appui", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        sys.exit(leaving.exit_code)
    except click.exceptions.Abort:
        click.echo("stopped: nothing more is written", err=True)
        sys.exit(1)
    except click.ClickException as error:
        _show(error)
        sys.exit(error.exit_code)
    except AppuiError as error:
        click.echo(f"appui: {shortened(str(error))}", err=True)
        sys.exit(error.exit_code)
    except MemoryError:
        click.echo(f"appui: {memory_spent()}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    except OSError as error:
        # what is written to files is refused by name; this is the terminal, a full disk it is led to, a lost folder
        where = f"{error.filename}: " if error.filename else "what is printed cannot be written: "
        _say_last(f"appui: {where}{error.strerror or error}")
        sys.exit(1)


def _open_streams() -> None:
    """Standard output and error that take any text, also where the one who called has closed them."""
    if sys.stdout is None:
        sys.stdout = io.TextIOWrapper(io.FileIO(os.devnull, "w"), encoding="utf-8")
    if sys.stderr is None:
        sys.stderr = io.TextIOWrapper(io.FileIO(os.devnull, "w"), encoding="utf-8")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")


def _show(error: click.ClickException) -> None:
    """What click says of words that cannot be meant, with nothing of any length echoed whole."""
    if isinstance(error, click.UsageError) and error.ctx is not None:
        click.echo(f"{error.ctx.get_usage()}\nTry '{error.ctx.command_path} --help' for help.\n", err=True)
    click.echo(f"Error: {shortened(error.format_message())}", err=True)


def _say_last(words: str) -> None:
    with suppress(OSError, ValueError):
        click.echo(shortened(words), err=True)


def run() -> None:
    """The program: `main`, and out.

    What is to be done at the end is done and flushed; then the process ends without taking down modules and objects one
    by one, which is a tenth of the time of a rendering. With other threads at work it ends in the usual way.
    """
    status = 0
    try:
        main()
    except SystemExit as leaving:
        if not isinstance(leaving.code, int | None):
            raise
        status = leaving.code or 0
    if threading.active_count() > 1:
        sys.exit(status)
    atexit._run_exitfuncs()  # noqa: SLF001 - what `os._exit` leaves out
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):  # a closed pipe: the usual way says so
        sys.exit(status)
    os._exit(status)


if __name__ == "__main__":
    run()
