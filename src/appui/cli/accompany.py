"""The command `accompany`: the accompaniment made from figures, chord symbols or a chart."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import REPLACE, WRITES_TEXT, command
from appui.cli.options import HARMONY, PATTERN, SCORE, SOLO, options, wishes_of

__all__ = ["accompany"]


@command(epilog="Example: appui accompany song.musicxml piano.musicxml --pattern alberti")
@SCORE
@click.argument("output", type=WRITES_TEXT, metavar="OUT.musicxml")
@options(SOLO, HARMONY, PATTERN, REPLACE)
def accompany(score: Path, output: Path, solo: str | None, chart: Path | None, pattern: str, replace: bool) -> None:
    """Write an accompaniment made from figures, chord symbols or a chart, as MusicXML."""
    from appui.accompany.write import accompaniment_xml
    from appui.cli.show import XML_COMMENT, write_text
    from appui.interpret.interpretation import interpret

    if output.suffix.lower() not in (".musicxml", ".xml"):
        raise click.UsageError(f"{output} ends in {output.suffix or 'no suffix'}; name it .musicxml")
    interpretation = interpret(score, wishes_of(solo=solo, chart=chart, pattern=pattern))
    write_text(output, accompaniment_xml(interpretation.score), comment=XML_COMMENT, replace=replace)
    click.echo(f"{output}  {interpretation.score.parts[-1].name}")
