"""The command `batch`: many scores at once."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.options import JSON, SOUNDFONT, options

__all__ = ["batch"]


@command(epilog="Example: appui batch scores out --do render --style bach-1753 --style harmony --jobs 4")
@click.argument("source", type=READS, metavar="FOLDER|LIST")
@click.argument("folder", type=WRITES, metavar="OUT")
@click.option(
    "--do",
    "what",
    type=click.Choice(["survey", "render", "page", "practice"]),
    default="survey",
    show_default=True,
    help="The survey as JSON; MIDI; a page for the browser; tracks to play along at 60, 80 and 100 percent.",
)
@click.option(
    "--style", "styles", multiple=True, metavar="NAME", help="Whose rules decide. Repeatable.  [default: harmony]"
)
@click.option(
    "--jobs",
    type=click.IntRange(-1, 1024),
    default=-1,
    show_default=True,
    help="How many scores at a time; -1: one for each core.",
)
@click.option("--on", "backend", metavar="BACKEND", help="A joblib backend to run on, such as dask.")
@click.option("--scheduler", metavar="ADDRESS", help="Where the backend's scheduler is.")
@click.option("--again", is_flag=True, help="Do everything anew, not only what is missing or changed.")
@options(SOUNDFONT, JSON)
def batch(
    source: Path,
    folder: Path,
    what: str,
    styles: tuple[str, ...],
    jobs: int,
    backend: str | None,
    scheduler: str | None,
    again: bool,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Work through all scores of a folder, or of a list of paths, into the folder OUT.

    A score that cannot be used stops nothing: OUT/report.txt says what became of each, OUT/report.jsonl the same for
    programs. A second run does only what is missing or changed.
    """
    from dataclasses import asdict

    from appui.batch.report import table_text
    from appui.batch.run import run_batch
    from appui.cli.show import print_json, progress

    rows = run_batch(
        source,
        folder,
        what=what,
        styles=styles or ("harmony",),
        workers=jobs or -1,
        backend=backend,
        scheduler=scheduler,
        soundfont=soundfont,
        again=again,
        say=progress(),
    )
    if as_json:
        print_json({"rows": [asdict(row) for row in rows]})
    else:
        click.echo(table_text(rows), nl=False)
    if not any(row.status == "done" for row in rows):
        raise click.exceptions.Exit(1)
