"""The command `notate`: the solo as it is played, in notes, or as a part for the stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import REPLACE, WRITES_TEXT, command
from appui.cli.options import BARS, HARMONY, PLAN, SCORE, SOLO, STYLE, TAKE, TEMPO, TRANSPOSE, options, wishes_of
from appui.errors import UsageError
from appui.sound.save import check_folder
from appui.text import counted

if TYPE_CHECKING:
    from appui.interpret.interpretation import Interpretation

__all__ = ["notate"]

Notices = tuple[tuple[str, str], ...]


@command(
    epilog="Examples: appui notate sonata.musicxml written.musicxml --keep ossia --style bach-1753; "
    "appui notate concerto.musicxml oboe.pdf --part"
)
@SCORE
@click.argument("output", type=WRITES_TEXT, metavar="OUT")
@click.option(
    "--part",
    "as_part",
    is_flag=True,
    help="The solo alone as it goes on the stand: rests gathered, cues, page turns at rests, your decisions in pencil.",
)
@click.option(
    "--keep",
    type=click.Choice(["ossia", "replace", "above"]),
    help="A small staff over the bars that differ; the solo itself written out; a whole staff above it.  "
    "[default: ossia; with --part only replace]",
)
@click.option("--labels", is_flag=True, help="Write the chord of each ornament under the solo.")
@options(TRANSPOSE, SOLO, BARS, STYLE, PLAN, TAKE, TEMPO, HARMONY, REPLACE)
def notate(
    score: Path,
    output: Path,
    as_part: bool,
    keep: str | None,
    labels: bool,
    transpose: str | None,
    solo: str | None,
    bars: str | None,
    style: str | None,
    plan: Path | None,
    takes: tuple[str, ...],
    tempo: str | None,
    chart: Path | None,
    replace: bool,
) -> None:
    """Write the solo with its ornaments written out in notes, or its part for the stand.

    OUT ends in .musicxml, .svg (a file a page) or .pdf. What is printed in the file stays as it is. Times that no note
    value has are rounded to one, and kept exactly in the
    playback attributes of the MusicXML.
    """
    from appui.cli.show import XML_COMMENT, print_notices, working, write_text
    from appui.interpret.interpretation import interpret, plan_notices
    from appui.notate.output import SUFFIXES
    from appui.sound.files import write_whole

    if output.suffix.lower() not in SUFFIXES:
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; outputs end in {', '.join(SUFFIXES)}")
    if as_part and (bars or keep not in (None, "replace")):
        wrong = "--bars" if bars else f"--keep {keep}"
        raise UsageError(f"--part is the whole solo on one staff, so {wrong} is not for it: leave out one of them")
    check_folder(output)
    with working("writing out"):
        wishes = wishes_of(
            solo=solo,
            style=style,
            plan=plan,
            takes=takes,
            tempo=tempo,
            chart=chart,
            pattern="none",
            slowing="natural",
            transpose=transpose,
        )
        player = interpret(score, wishes)
        if as_part:
            files, told, notices = _part(score, output, player, labels=labels, written_out=keep == "replace")
        else:
            files, told, notices = _written_out(score, output, player, keep or "ossia", labels=labels, bars=bars)
    for path, data in files.items():
        if _is_musicxml(path):
            write_text(path, data, comment=XML_COMMENT, replace=replace)
        else:
            write_whole(path, data)
        click.echo(f"{path}  {told}")
    print_notices((*plan_notices(player), *notices))


def _written_out(
    score: Path, output: Path, player: Interpretation, keep: str, *, labels: bool, bars: str | None
) -> tuple[dict[Path, bytes], str, Notices]:
    """The files of the score with the solo written out, what is said of them, and the notices."""
    from appui.notate.output import notated, pages_of
    from appui.score.bars import bar_range

    chosen = bar_range(player.score, bars) if bars else None
    text, line = notated(score, player, keep, labels=labels, bars=chosen)
    told = f"{counted(len(line.signs), 'ornament')} written out"
    if _is_musicxml(output):
        return {output: text}, told, line.notices
    return _drawn(output, pages_of(text, score.name)), told, line.notices


def _part(
    score: Path, output: Path, player: Interpretation, *, labels: bool, written_out: bool
) -> tuple[dict[Path, bytes], str, Notices]:
    """The files of the solo's part, what is said of them, and the notices."""
    from appui.notate.part import part_file, part_name, solo_part
    from appui.notate.stand import part_pages

    made = solo_part(score, player, labels=labels, written_out=written_out)
    pages, starts, hurried = part_pages(made, player.score, part_name(player))
    done = (
        f"{counted(len(made.line.signs), 'ornament')} written out"
        if written_out
        else f"{counted(len(made.pencils), 'decision')} in pencil"
    )
    told = f"{part_name(player)}, {len(pages)} page{'s' if len(pages) > 1 else ''}, {done}"
    notices = (*made.line.notices, *((part_name(player), words) for words in hurried))
    files = {output: part_file(made, starts)} if _is_musicxml(output) else _drawn(output, pages)
    return files, told, notices


def _is_musicxml(output: Path) -> bool:
    return output.suffix.lower() in (".musicxml", ".xml")


def _drawn(output: Path, pages: list[str]) -> dict[Path, bytes]:
    """The pages as one PDF, or as an SVG each."""
    from appui.notate.output import pdf_of

    if output.suffix.lower() == ".pdf":
        return {output: pdf_of(pages)}
    return {_page(output, number): page.encode() for number, page in enumerate(pages, 1)}


def _page(output: Path, number: int) -> Path:
    return output if number == 1 else output.with_name(f"{output.stem}-{number}{output.suffix}")
