"""The command `notate`: the solo as it is played, in notes."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.options import BARS, HARMONY, PLAN, SCORE, SOLO, STYLE, TAKE, TEMPO, options, wishes_of
from appui.errors import UsageError
from appui.sound.save import check_folder

__all__ = ["notate"]


@click.command(epilog="Example: appui notate sonata.musicxml written.musicxml --keep ossia --style bach-1753")
@SCORE
@click.argument("output", type=click.Path(path_type=Path), metavar="OUT")
@click.option(
    "--keep",
    type=click.Choice(["ossia", "replace", "above"]),
    default="ossia",
    show_default=True,
    help="A small staff over the bars that differ; the solo itself written out; a whole staff above it.",
)
@click.option("--labels", is_flag=True, help="Write the chord of each sign as text under the solo.")
@options(SOLO, BARS, STYLE, PLAN, TAKE, TEMPO, HARMONY)
def notate(
    score: Path,
    output: Path,
    keep: str,
    labels: bool,
    solo: str | None,
    bars: str | None,
    style: str | None,
    plan: Path | None,
    takes: tuple[str, ...],
    tempo: str | None,
    chart: Path | None,
) -> None:
    """Write the solo with its signs written out, as .musicxml, .svg (a file a page) or .pdf.

    The file's own print stays as it is. Times that no note value has are rounded to one, and kept exactly in the
    playback attributes of the MusicXML.
    """
    from appui.cli.show import print_notices, working
    from appui.interpret.interpretation import interpret
    from appui.notate.output import SUFFIXES, notated, pages_of, pdf_of
    from appui.score.bars import bar_range
    from appui.sound.files import write_whole

    suffix = output.suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; outputs end in {', '.join(SUFFIXES)}")
    check_folder(output)
    with working("writing out"):
        wishes = wishes_of(
            solo=solo, style=style, plan=plan, takes=takes, tempo=tempo, chart=chart, pattern="none", slowing="natural"
        )
        interpretation = interpret(score, wishes)
        chosen = bar_range(interpretation.score, bars) if bars else None
        text, line = notated(score, interpretation, keep, labels=labels, bars=chosen)
        if suffix in (".musicxml", ".xml"):
            files = {output: text}
        elif suffix == ".pdf":
            files = {output: pdf_of(pages_of(text, score.name))}
        else:
            pages = pages_of(text, score.name)
            files = {_page(output, number): page.encode() for number, page in enumerate(pages, 1)}
    for path, data in files.items():
        write_whole(path, data)
        click.echo(f"{path}  {len(line.signs)} signs written out")
    print_notices(line.notices)


def _page(output: Path, number: int) -> Path:
    return output if number == 1 else output.with_name(f"{output.stem}-{number}{output.suffix}")
