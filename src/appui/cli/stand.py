"""The command `stand`: the tool in the browser, on one's own machine."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import READS, command
from appui.cli.practice import CAUTION

__all__ = ["stand"]


@command(epilog=f"Examples: appui stand; appui stand sonata.musicxml; appui stand scores --share.  {CAUTION}")
@click.argument("scores", nargs=-1, type=READS, metavar="[SCORE|FOLDER...]")
@click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="The port.  [default: a free one]")
@click.option(
    "--shelf", type=READS, metavar="FOLDER", help="Where pieces you drop in are kept.  [default: in your data folder]"
)
@click.option(
    "--share",
    is_flag=False,
    flag_value="read",
    type=click.Choice(["read", "write"]),
    help="Let other devices of your network in: to look and listen (read), or to change things too (write).",
)
@click.option("--open/--no-open", "opens", default=True, help="Open the browser.  [default: open]")
def stand(scores: tuple[Path, ...], port: int, shelf: Path | None, share: str | None, opens: bool) -> None:
    """Open the stand in the browser: your pieces, and every way of playing at a press.

    Practice, embellishment, ear training and a page for a pupil are there too. It runs on this machine alone, without a
    network. What you decide is kept in a plan beside each score. Ctrl-C ends.
    """
    from appui.stand.serve import Address, serve, square_code
    from appui.stand.shelf import Shelf, default_folder

    def say(found: Address) -> None:
        click.echo(f"The stand: {found.own}")
        if found.shared:
            may = "look, listen and change what you decide" if share == "write" else "look and listen"
            click.echo(f"Shared:    {found.shared}")
            click.echo(square_code(found.shared), nl=False)
            click.echo(
                f"Whoever in your network has this address may {may}, until you end the stand. It is not encrypted."
            )
        elif share:
            click.echo("This machine has no network now, so nothing is shared.")
        click.echo("Start with the volume low. Ctrl-C ends the stand.")

    serve(Shelf(shelf or default_folder(), scores), port, share, say, opens=opens)
