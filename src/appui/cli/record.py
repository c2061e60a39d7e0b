"""The command `record`: a track played and the solo recorded over it, for `listen`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from appui.cli.command import WRITES, command
from appui.cli.options import (
    BARS,
    HARMONY,
    HOLD,
    PATTERN,
    PLAN,
    SCORE,
    SOLO,
    SOUNDFONT,
    STYLE,
    TRACK_TIME,
    options,
    wishes_of,
)
from appui.cli.practice import CAUTION, SOUND_OPTIONS, TRACK_OPTIONS
from appui.errors import OutputError

if TYPE_CHECKING:
    from appui.interpret.wishes import Wishes

__all__ = ["record"]


@command(epilog=f"Example: appui record sonata.musicxml take1.flac --bars 1-8 --tempo 60%.  {CAUTION}")
@SCORE
@click.argument("output", type=WRITES, metavar="OUT")
@options(SOLO, BARS, STYLE, PLAN, HARMONY, PATTERN, HOLD, *TRACK_OPTIONS, TRACK_TIME, *SOUND_OPTIONS, SOUNDFONT)
def record(
    score: Path,
    output: Path,
    solo: str | None,
    style: str | None,
    plan: Path | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    embellish: Path | None,
    soundfont: Path | None,
    time: str,
    **words: Any,
) -> None:
    """Play a practice track and record you over it; wear headphones, and play after the count-in.

    OUT ends in .wav, .flac, .ogg or .mp3. The track is kept beside it: `listen OUT --backing` needs it. Ctrl-C ends.
    """
    from appui.sound.files import check_place
    from appui.sound.formats import check_suffix
    from appui.sound.record import recorder

    check_suffix(output)
    if output.exists():
        raise OutputError(output, "is there already, and a take cannot be played again", "give another name")
    check_place(output)
    device = recorder()
    wishes = wishes_of(solo=solo, style=style, plan=plan, chart=chart, pattern=pattern, hold=hold, time=time)
    track = output.with_name(f"{output.stem} track.wav")
    _write_track(track, score, wishes, embellish, soundfont, words)
    _take(device, track, output)
    click.echo(f"Now: appui listen {score} {output} --backing '{track}'")


def _write_track(
    path: Path, score: Path, wishes: Wishes, embellish: Path | None, soundfont: Path | None, words: dict[str, Any]
) -> None:
    """The track to play over."""
    from appui.cli.practice import track_asked
    from appui.cli.show import progress
    from appui.practice.deliver import Job, deliver

    track = track_asked(score, wishes, embellish, words)
    deliver([Job(lambda: track, (path,), title=path.stem)], soundfont, say=progress())


def _take(device: Any, track: Path, output: Path) -> None:
    """Play the track, record meanwhile, and write what was recorded."""
    from appui.sound.record import level_words, play_and_record, samples_of, write_take

    samples, rate = samples_of(track)
    click.echo(f"recording {len(samples) / rate:.0f} s; Ctrl-C ends", err=True)
    take = play_and_record(device, samples, rate)
    write_take(output, take, rate)
    if said := level_words(take):
        click.echo(said, err=True)
    click.echo(f"{output}  {len(take) / rate:.1f} s")
