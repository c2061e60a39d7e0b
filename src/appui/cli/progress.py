"""The command `progress`: what a player has heard so far, as a table, a chart or a file to keep."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.drill import STORE
from appui.cli.options import options
from appui.errors import OutputError, StoreError, UsageError
from appui.text import counted

if TYPE_CHECKING:
    from appui.drill.store import KeptTake, Row, Store

__all__ = ["progress"]


@command(epilog="Example: appui progress --out chart.svg; appui progress --import drill.json --player Ada")
@click.option("--player", metavar="NAME", help="Whose results.  [default: everybody's]")
@click.option(
    "--out",
    "output",
    type=WRITES,
    metavar="FILE",
    help="Write thresholds as a chart (.svg), or every answer (.csv, .json).",
)
@click.option(
    "--import",
    "source",
    type=READS,
    metavar="FILE",
    help="Take in results saved from a page, or written with --out.",
)
@click.option("--delete", is_flag=True, help="Forget a player's results for good; you are asked first.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@options(STORE)
def progress(
    player: str | None, output: Path | None, source: Path | None, delete: bool, yes: bool, store: Path | None
) -> None:
    """Show how your ear comes on; keep, take in or forget results."""
    from appui.drill.store import Store

    if delete and player is None:
        raise UsageError("--delete needs --player: whose results are to be forgotten?")
    with Store.open(store) as kept:
        if source is not None:
            _take_in(kept, source, player)
        if delete and player is not None:
            _forget(kept, player, yes=yes)
            return
        rows = kept.rows(player)
        if output is not None:
            _write(rows, output)
        elif source is None:
            _show_takes(kept.takes(player))
            _show(rows, player, kept.path)


def _show_takes(takes: list[KeptTake]) -> None:
    from appui.cli.show import print_kept_takes

    if takes:
        print_kept_takes(takes)


def _take_in(kept: Store, source: Path, player: str | None) -> None:
    from appui.drill.results import known_rows
    from appui.drill.store import EXPORT_BYTES, rows_from_json
    from appui.text import text_of

    saved = "name the file the page has saved"
    text = text_of(source, StoreError, "file of results", saved, saved, most_bytes=EXPORT_BYTES)
    rows = known_rows(rows_from_json(text, source), source)
    if player is not None:
        rows = [row._replace(player=player) for row in rows]
    new = kept.take(rows)
    click.echo(
        f"{counted(new, 'new answer')} taken in from {source}"
        + (f"; {len(rows) - new} were there" if new < len(rows) else "")
    )


def _forget(kept: Store, player: str, *, yes: bool) -> None:
    if player not in kept.players():
        raise UsageError(f"no player {player!r}; players are {', '.join(kept.players()) or 'none yet'}")
    if yes or click.confirm(f"Forget everything {player} has answered and played?"):
        click.echo(f"Gone: {counted(kept.delete(player), 'answer')} of {player}")
    else:
        click.echo("nothing is deleted")


def _write(rows: list[Row], output: Path) -> None:
    from appui.drill.store import rows_to_csv, rows_to_json
    from appui.sound.files import write_whole

    def chart() -> str:
        from appui.drill.chart import chart as draw
        from appui.drill.results import results_of

        return draw(results_of(rows))

    makers: dict[str, Callable[[], str]] = {
        ".svg": chart,
        ".csv": lambda: rows_to_csv(rows),
        ".json": lambda: rows_to_json(rows),
    }
    if output.suffix.lower() not in makers:
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; outputs end in {', '.join(makers)}")
    if not output.parent.is_dir():
        raise OutputError(output, f"its folder {output.parent} does not exist", "make the folder or name another")
    write_whole(output, makers[output.suffix.lower()]().encode())
    click.echo(f"{output}  {counted(len(rows), 'answer')}")


def _show(rows: list[Row], player: str | None, path: Path) -> None:
    from appui.cli.show import print_results
    from appui.drill.results import results_of

    if not rows:
        click.echo(
            f"No answers{f' by {player}' if player else ''} yet: `appui drill` begins. Results are kept in {path}"
        )
        return
    print_results(results_of(rows))
    click.echo(f"Thresholds: right halfway between guessing and always. {counted(len(rows), 'answer')}, kept in {path}")
