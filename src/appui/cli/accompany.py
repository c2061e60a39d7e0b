"""The command `accompany`: the accompaniment made from figures, chord symbols or a chart."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.options import HARMONY, PATTERN, SCORE, SOLO, options, wishes_of

__all__ = ["accompany"]


@click.command(epilog="Example: appui accompany song.musicxml piano.musicxml --pattern alberti")
@SCORE
@click.argument("output", type=click.Path(path_type=Path), metavar="OUT.musicxml")
@options(SOLO, HARMONY, PATTERN)
def accompany(score: Path, output: Path, solo: str | None, chart: Path | None, pattern: str) -> None:
    """Write an accompaniment made from figures, chord symbols or a chart, as MusicXML."""
    from appui.accompany.write import accompaniment_xml
    from appui.interpret.interpretation import interpret
    from appui.sound.files import write_whole

    if output.suffix.lower() not in (".musicxml", ".xml"):
        raise click.UsageError(f"{output} ends in {output.suffix or 'no suffix'}; name it .musicxml")
    interpretation = interpret(score, wishes_of(solo=solo, chart=chart, pattern=pattern))
    write_whole(output, accompaniment_xml(interpretation.score))
    click.echo(f"{output}  {interpretation.score.parts[-1].name}")
