"""The command `compare`: the ways of playing a place, one against another."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from appui.cli.command import WRITES, command
from appui.cli.options import HARMONY, HOLD, JSON, PATTERN, PLAN, SCORE, SOLO, SOUNDFONT, STROKES, options, wishes_of

__all__ = ["compare"]


@command(epilog="Example: appui compare sonata.musicxml heard --at oboe.12.3 --tempo 60% --tempo 100% --format flac")
@SCORE
@click.argument("folder", type=WRITES)
@options(SOLO)
@click.option(
    "--at",
    "places",
    multiple=True,
    metavar="PLACE",
    help="Only here. Repeatable.  [default: every small note that has another way worth hearing]",
)
@click.option(
    "--style",
    "styles",
    multiple=True,
    metavar="NAME",
    help="Whose rules decide; several let you hear what each would do. Repeatable.",
)
@click.option(
    "--tempo", "tempos", multiple=True, metavar="T", help="Practice tempos. Repeatable.  [default: 60% and 100%]"
)
@click.option(
    "--format", "suffix", type=click.Choice(["mid", "wav", "flac", "ogg", "mp3"]), default="wav", show_default=True
)
@options(STROKES, PLAN, HARMONY, PATTERN, HOLD, SOUNDFONT, JSON)
def compare(
    score: Path,
    folder: Path,
    solo: str | None,
    places: tuple[str, ...],
    styles: tuple[str, ...],
    tempos: tuple[str, ...],
    suffix: str,
    plan: Path | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Write short excerpts of each place, played one way and the other."""
    from appui.cli.show import print_comparison, print_json, progress, working
    from appui.compare.excerpts import compare as make
    from appui.compare.excerpts import places_to_compare
    from appui.interpret.interpretation import interpret

    tempos = tempos or ("60%", "100%")
    first = styles[0] if styles else None
    wishes = wishes_of(solo=solo, style=first, plan=plan, tempo=tempos[0], chart=chart, pattern=pattern, hold=hold)
    with working("reading"):
        interpretation = interpret(score, wishes)
        for tempo in tempos:
            interpretation.at_tempo(tempo).check()
        signs = places_to_compare(interpretation, places)
    if not signs:
        click.echo("no small note of the solo has another way worth hearing: nothing written", err=True)
    written = make(
        interpretation,
        folder,
        signs,
        tempos,
        styles=styles,
        suffix="." + suffix,
        soundfont=soundfont,
        say=progress(len(signs) * len(tempos)),
    )
    if as_json:
        print_json({"folder": str(folder), "files": [asdict(excerpt) for excerpt in written]})
    else:
        print_comparison(interpretation, signs, written, folder)
