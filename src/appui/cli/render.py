"""The command `render`: the piece or some bars as MIDI and audio."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

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
    SHAPE,
    SLOWING,
    SOLO,
    SOUNDFONT,
    STYLE,
    TAKE,
    TEMPO,
    YEAR,
    Between,
    options,
    time_option,
    wishes_of,
)

if TYPE_CHECKING:
    from appui.interpret.interpretation import Interpretation
    from appui.interpret.wishes import LongNotes, Shape, Timing
    from appui.perform.model import Performance

__all__ = ["render"]


@command(epilog="Example: appui render sonata.musicxml out.mid out.wav --bars 5-12 --tempo 60% --take oboe.7.1=before")
@SCORE
@click.argument("outputs", nargs=-1, required=True, type=WRITES, metavar="OUT...")
@options(SOLO, STYLE, PLAN, TAKE, BARS, TEMPO)
@options(SLOWING)
@click.option(
    "--weight",
    type=Between(-12, 24),
    metavar="DB",
    help="How much louder a leaning note is than its release; 4 is for teaching.  [default: by its length, 0 to 3; "
    "with --shape plain the style's, 4]",
)
@options(SHAPE)
@time_option("shaped", "such as at ends and before rests")
@click.option(
    "--long-notes",
    type=click.Choice(["even", "swell"]),
    default="even",
    show_default=True,
    help="Long notes of winds, strings and voices even, or swelling and fading (messa di voce).",
)
@click.option("--mute", type=click.Choice(["solo", "accompaniment"]), help="Leave one of them out.")
@click.option("--repeats/--no-repeats", default=True, show_default=True, help="Play repeats as printed.")
@click.option(
    "--weight-written-out",
    type=Between(-12, 24),
    metavar="DB",
    help="The same for leaning notes printed as full-size notes.  [default: as printed]",
)
@click.option(
    "--raw-samples",
    is_flag=True,
    help="Do not correct the SoundFont's tuning; left out, the sounds that were measured are brought in tune.",
)
@click.option("--stage", is_flag=True, help="In stereo: the solo in the middle, the others from left to right.")
@click.option("--picture", type=WRITES, metavar="OUT.svg", help="Draw levels and tempo under the bars, too.")
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
    shape: Shape,
    time: Timing,
    long_notes: LongNotes,
    mute: str | None,
    repeats: bool,
    weight_written_out: float | None,
    raw_samples: bool,
    stage: bool,
    picture: Path | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    year: int | None,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Write the piece, or some bars, as MIDI (.mid) or audio (.wav .flac .ogg .mp3)."""
    from appui.cli.show import print_notices, tell_fuller_soundfont, working
    from appui.interpret.interpretation import interpret
    from appui.perform.play import play
    from appui.sound.save import check_folder, check_outputs, save

    check_outputs(outputs)
    if picture is not None:
        check_folder(picture)
    with working("reading"):
        wishes = wishes_of(
            solo=solo,
            style=style,
            plan=plan,
            takes=takes,
            tempo=tempo,
            slowing=slowing,
            weight_db=weight,
            shape=shape,
            time=time,
            long_notes=long_notes,
            written_out_db=weight_written_out,
            chart=chart,
            pattern=pattern,
            hold=hold,
            year=year,
        )
        interpretation = interpret(score, wishes)
        performance = play(interpretation, interpretation.order(bars, repeats=repeats))
    performance = _set_up(replace(performance, raw_samples=raw_samples), mute, stage=stage)
    if picture is not None:
        _draw(performance, picture)
    save(performance, outputs, soundfont)
    print_notices(performance.notices)
    tell_fuller_soundfont(performance, soundfont, outputs)
    _tell(interpretation, performance, outputs, as_json=as_json)


def _set_up(performance: Performance, mute: str | None, *, stage: bool) -> Performance:
    """Who is left out, and who sits where."""
    from appui.perform.perform import only
    from appui.perform.stage import on_stage

    if mute is not None:
        performance = only(performance, solo=mute == "accompaniment")
    return on_stage(performance) if stage else performance


def _tell(
    interpretation: Interpretation, performance: Performance, outputs: tuple[Path, ...], *, as_json: bool
) -> None:
    from appui.cli.show import print_json

    if as_json:
        from appui.compare.report import render_record

        print_json(render_record(interpretation, performance, outputs))
    else:
        for path in outputs:
            click.echo(f"{path}  {performance.length_s:.1f} s")


def _draw(performance: Performance, path: Path) -> None:
    from appui.perform import picture
    from appui.sound.files import write_whole

    write_whole(path, picture.picture(performance))
