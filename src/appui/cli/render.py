"""The command `render`: the piece or some bars as MIDI and audio."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import WRITES, command
from appui.cli.options import (
    BARS,
    HARMONY,
    HOLD,
    JSON,
    PATTERN,
    PLAN,
    SCORE,
    SOLO,
    SOUNDFONT,
    STYLE,
    TAKE,
    TEMPO,
    YEAR,
    Between,
    options,
    wishes_of,
)

__all__ = ["render"]


@command(epilog="Example: appui render sonata.musicxml out.mid out.wav --bars 5-12 --tempo 60% --take oboe.7.1=passing")
@SCORE
@click.argument("outputs", nargs=-1, required=True, type=WRITES, metavar="OUT...")
@options(SOLO, STYLE, PLAN, TAKE, BARS, TEMPO)
@click.option(
    "--slowing",
    type=click.Choice(["scaled", "natural"]),
    default="scaled",
    show_default=True,
    help="Below tempo: everything slower alike, or short graces and trills at their own speed.",
)
@click.option(
    "--weight",
    type=Between(-12, 24),
    metavar="DB",
    help="How much louder a leaning note is than its release.  [default: the style's, 4]",
)
@click.option("--mute", type=click.Choice(["solo", "accompaniment"]), help="Leave one of them out.")
@click.option("--repeats/--no-repeats", default=True, show_default=True, help="Play repeats as printed.")
@click.option(
    "--weight-written-out",
    type=Between(-12, 24),
    metavar="DB",
    help="The same for leaning notes printed as full-size notes.  [default: as printed]",
)
@options(HARMONY, PATTERN, HOLD, YEAR, SOUNDFONT, JSON)
def render(
    score: Path,
    outputs: tuple[Path, ...],
    solo: str | None,
    style: str | None,
    plan: Path | None,
    takes: tuple[str, ...],
    bars: str | None,
    tempo: str | None,
    slowing: str,
    weight: float | None,
    mute: str | None,
    repeats: bool,
    weight_written_out: float | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    year: int | None,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Write the piece, or some bars, as MIDI (.mid) and audio (.wav .flac .ogg .mp3)."""
    from appui.cli.show import print_json, print_notices, working
    from appui.interpret.interpretation import interpret
    from appui.perform.perform import only
    from appui.perform.play import play
    from appui.sound.save import check_outputs, save

    check_outputs(outputs)
    with working("reading"):
        wishes = wishes_of(
            solo=solo,
            style=style,
            plan=plan,
            takes=takes,
            tempo=tempo,
            slowing=slowing,
            weight_db=weight,
            written_out_db=weight_written_out,
            chart=chart,
            pattern=pattern,
            hold=hold,
            year=year,
        )
        interpretation = interpret(score, wishes)
        performance = play(interpretation, interpretation.order(bars, repeats=repeats))
    if mute is not None:
        performance = only(performance, solo=mute == "accompaniment")
    save(performance, outputs, soundfont)
    print_notices(performance.notices)
    if as_json:
        from appui.compare.report import render_record

        print_json(render_record(interpretation, performance, outputs))
    else:
        for path in outputs:
            click.echo(f"{path}  {performance.length_s:.1f} s")
