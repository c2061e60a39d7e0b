"""The command `listen`: what was played at each ornament, beside what was decided."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.drill import STORE
from appui.cli.options import BARS, HARMONY, JSON, PLAN, SCORE, SOLO, STYLE, TEMPO, Between, options, wishes_of
from appui.errors import OutputError, UsageError

if TYPE_CHECKING:
    from appui.interpret.interpretation import Interpretation
    from appui.interpret.wishes import Wishes
    from appui.listen.listen import Report, Wanted

__all__ = ["listen"]

CAUTION = (
    "Hearing: recording under headphones, start with the volume low; no program can know how loud it is at your ear. "
    "Your teacher, the edition and your ear decide."
)


@command(epilog=f"Example: appui listen sonata.musicxml take1.wav take2.wav --bars 1-8 --out heard.  {CAUTION}")
@SCORE
@click.argument("takes", nargs=-1, required=True, type=READS, metavar="TAKE...")
@options(SOLO, PLAN, STYLE, HARMONY, BARS, TEMPO)
@click.option(
    "--pitch", type=Between(380, 480), metavar="HZ", default=440, show_default=True, help="About where A4 is tuned."
)
@click.option(
    "--backing",
    "track",
    type=READS,
    metavar="TRACK",
    help="The `appui practice` track that was played over: the surest way.",
)
@click.option("--solo-alone", is_flag=True, help="Only the solo plays; left out, `listen` finds out by itself.")
@click.option("--csv", "table", type=WRITES, metavar="FILE", help="Write a table: how every take plays every place.")
@click.option("--out", "folder", type=WRITES, metavar="FOLDER", help="Write a picture and an excerpt for each place.")
@click.option("--player", metavar="NAME", help="Keep what was heard with this player's results: see `progress`.")
@options(STORE, JSON)
def listen(
    score: Path,
    takes: tuple[Path, ...],
    solo: str | None,
    plan: Path | None,
    style: str | None,
    chart: Path | None,
    bars: str | None,
    tempo: str | None,
    pitch: float,
    track: Path | None,
    solo_alone: bool,
    table: Path | None,
    folder: Path | None,
    player: str | None,
    store: Path | None,
    as_json: bool,
) -> None:
    """Tell what was played at each ornament of a take.

    Of small notes, trills, turns, mordents and slides: where they fall, how long they are, how heavy.

    TAKE is a recording of the solo, alone or with the other parts of the score (.wav, .flac, .ogg, .mp3), or a
    MIDI file of it (.mid).
    """
    from appui.cli.show import print_json
    from appui.listen.listen import Wanted
    from appui.listen.records import record

    _check(takes, track, bars, table, solo_alone=solo_alone)
    # the weights that `render` plays by itself
    wishes = wishes_of(solo=solo, plan=plan, style=style, chart=chart, tempo=tempo, shape="shaped")
    interpretation, reports = _heard(score, wishes, takes, track, Wanted(bars, pitch, solo_alone))
    _write(interpretation, reports, folder, table)
    if player is not None:
        _keep(interpretation.score.title, reports, player, store)
    if as_json:
        print_json({"score": str(score), "takes": [record(report) for report in reports]})
    else:
        _print(reports)


def _check(
    takes: tuple[Path, ...], track: Path | None, bars: str | None, table: Path | None, *, solo_alone: bool
) -> None:
    """Raises `UsageError` or `OutputError` for what cannot be, before minutes of listening."""
    if table is not None and not table.parent.is_dir():
        raise OutputError(table, f"its folder {table.parent} does not exist", "make the folder or name another")
    if len(set(takes)) < len(takes):
        raise UsageError("the same take is named twice")
    if track is not None and bars is not None:
        raise UsageError("a track knows its own bars: leave out --bars, or --backing")
    if track is not None and solo_alone:
        raise UsageError("--solo-alone says that nobody else is heard, --backing that a track may be: give one")


def _heard(
    score: Path, wishes: Wishes, takes: tuple[Path, ...], track: Path | None, wanted: Wanted
) -> tuple[Interpretation, list[Report]]:
    """What is heard in every take, a report a take, or a round of one."""
    from appui.cli.show import progress, working
    from appui.interpret.interpretation import interpret
    from appui.listen.backing import open_backing
    from appui.listen.listen import listen as hear
    from appui.listen.listen import listen_over

    with working("reading"):
        interpretation = interpret(score, wishes)
    backing = open_backing(track) if track is not None else None
    say, reports = progress(len(takes)), []
    for take in takes:
        if backing is not None:
            reports += listen_over(interpretation, take, backing, wanted)
        else:
            reports.append(hear(interpretation, take, wanted))
        say(f"heard: {take}")
    return interpretation, reports


def _write(interpretation: Interpretation, reports: list[Report], folder: Path | None, table: Path | None) -> None:
    """The folder of pictures and sounds, and the table, where they are asked for."""
    if folder is not None:
        from appui.listen.keepsake import write_folder

        count = len(list(write_folder(interpretation, reports, folder)))
        click.echo(f"written: {folder}, {count} files", err=True)
    if table is not None:
        from appui.listen.report import records_csv
        from appui.sound.files import write_whole

        write_whole(table, records_csv(reports).encode())
        click.echo(f"written: {table}", err=True)


def _keep(title: str, reports: list[Report], player: str, store: Path | None) -> None:
    """Keep what was heard with a player's results."""
    import json
    from datetime import UTC, datetime

    from appui.drill.store import KeptTake, Store
    from appui.listen.records import record
    from appui.listen.report import summary

    moment = datetime.now(UTC).isoformat(timespec="seconds")
    with Store.open(store) as kept:
        for report in reports:
            kept.keep_take(KeptTake(player, moment, title, report.file, summary(report), json.dumps(record(report))))


def _print(reports: list[Report]) -> None:
    from appui.cli.show import print_takes, print_told
    from appui.listen.report import CANNOT_KNOW, side_by_side, summary, told

    for report in reports:
        heard = report.heard
        click.echo(f"{report.file}: {heard.length_s:.0f} s, A4 at {heard.a4_hz:.0f} Hz. {summary(report)}")
        for notice in report.notices:
            click.echo(f"  {notice}")
        if report.places and len(reports) == 1:
            print_told(told(report))
    if len(reports) > 1:
        print_takes([report.file for report in reports], side_by_side(reports))
    click.echo(CANNOT_KNOW)
