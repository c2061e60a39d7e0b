"""The command `play`: the same tracks as `practice`, at once, through the sound card."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from appui.cli.command import command
from appui.cli.options import (
    BARS,
    HARMONY,
    HOLD,
    PATTERN,
    PLAN,
    SCORE,
    SHAPE,
    SLOWING,
    SOLO,
    SOUNDFONT,
    STYLE,
    TRACK_TIME,
    options,
    wishes_of,
)
from appui.cli.practice import CAUTION, SOUND_OPTIONS, TRACK_OPTIONS

__all__ = ["play"]


@command(epilog=f"Example: appui play sonata.musicxml --bars 1-8 --tempo 60% --times 4 --click beats.  {CAUTION}")
@options(SCORE, SOLO, BARS, STYLE, PLAN, HARMONY, PATTERN, HOLD)
@options(*TRACK_OPTIONS, SLOWING, SHAPE, TRACK_TIME, *SOUND_OPTIONS, SOUNDFONT)
@click.option("--driver", metavar="NAME", help="A sound driver of FluidSynth's, such as alsa.  [default: the system's]")
def play(
    score: Path,
    solo: str | None,
    style: str | None,
    plan: Path | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    embellish: Path | None,
    soundfont: Path | None,
    slowing: str,
    shape: str,
    time: str,
    driver: str | None,
    **words: Any,
) -> None:
    """Play a practice track through the sound card. Keys: q stops, r begins again, - slower, + faster."""
    from appui.cli.practice import track_asked
    from appui.cli.show import tell_fuller_soundfont
    from appui.practice.track import whole_performance
    from appui.sound import live
    from appui.sound.keyboard import keyboard

    wishes = wishes_of(
        solo=solo,
        style=style,
        plan=plan,
        chart=chart,
        pattern=pattern,
        hold=hold,
        slowing=slowing,
        shape=shape,
        time=time,
    )
    performance = whole_performance(track_asked(score, wishes, embellish, words))
    tell_fuller_soundfont(performance, soundfont)
    with live.open_card(performance, soundfont, driver=driver) as card, keyboard() as key:
        click.echo(", ".join(f"{key} {what}" for key, what in live.KEYS.items()), err=True)
        live.play(performance, card, key, say=lambda pace: click.echo(pace, err=True))
