"""The command `page`: the passage with its signs, harmony, readings and sound as one file for a browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.options import BARS, HARMONY, JSON, PLAN, SCORE, SOLO, SOUNDFONT, STROKES, TRANSPOSE, options, wishes_of
from appui.errors import UsageError
from appui.text import counted

if TYPE_CHECKING:
    from appui.page.build import Made
    from appui.page.letter import Letter

__all__ = ["page"]

TEMPOS = ("60%", "100%")
#  a page of more ornaments is recorded at one tempo between these: coding the sound takes most of the time
MANY, BETWEEN = 100, "75%"


@command(epilog="Example: appui page sonata.musicxml sonata.html --bars 1-16 --tempo 50% --tempo 100%")
@SCORE
@click.argument("output", type=WRITES, metavar="OUT.html")
@options(SOLO)
@click.option(
    "--style",
    "styles",
    multiple=True,
    metavar="NAME",
    help="Whose rules decide; with several, the first one's, and the others' are there to hear. Repeatable.  "
    "[default: harmony]",
)
@options(STROKES, PLAN)
@click.option(
    "--tempo",
    "tempos",
    multiple=True,
    metavar="T",
    help="Tempos to render; others are stretched from these. Repeatable.  [default: 60% and 100%; 75% alone for more "
    f"than {MANY} ornaments]",
)
@options(BARS)
@click.option("--folder", is_flag=True, help="Keep the sound in a folder beside the page, for long scores.")
@click.option(
    "--remarks",
    type=READS,
    metavar="FILE",
    help="A teacher's remarks and what is to be decided, as the stand keeps them.",
)
@click.option("--no-answers", is_flag=True, help="Hide the answers where something is to be decided, until it is.")
@options(TRANSPOSE, HARMONY, SOUNDFONT, JSON)
def page(
    score: Path,
    output: Path,
    solo: str | None,
    styles: tuple[str, ...],
    plan: Path | None,
    tempos: tuple[str, ...],
    bars: str | None,
    folder: bool,
    remarks: Path | None,
    no_answers: bool,
    transpose: str | None,
    chart: Path | None,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Write a page for the browser: the score, its verdicts, every way of playing to hear.

    It opens in any browser, without a network.
    """
    from appui.cli.show import print_notices, progress, working
    from appui.compare.survey import select
    from appui.interpret.interpretation import interpret
    from appui.page.build import make_page
    from appui.score.bars import bar_range

    letter = _letter(remarks, no_answers=no_answers)
    tempos = tuple(dict.fromkeys(tempos))
    with working("reading"):
        wishes = wishes_of(
            solo=solo,
            style=styles[0] if styles else None,
            plan=plan,
            tempo=(tempos or TEMPOS)[0],
            transpose=transpose,
            chart=chart,
            shape="shaped",
            time="shaped",
        )
        interpretation = interpret(score, wishes)
        for tempo in tempos:
            interpretation.at_tempo(tempo).check()
        signs = select(interpretation, all_parts=False, bars=bars)
        tempos = tempos or ((BETWEEN,) if len(signs) > MANY else TEMPOS)
    made = make_page(
        interpretation,
        score,
        output,
        signs,
        bar_range(interpretation.score, bars),
        tempos,
        styles=styles,
        soundfont=soundfont,
        folder=folder,
        letter=letter,
        say=progress(),
    )
    print_notices(made.notices)
    _tell(made, output, as_json=as_json)
    if not folder:
        _warn_if_large(output, made.size)


def _letter(remarks: Path | None, *, no_answers: bool) -> Letter | None:
    """What a teacher sends with the page, from a file of remarks; refused where there is no such file."""
    from appui.page.letter import Letter, read_remarks

    if remarks is None:
        if no_answers:
            raise UsageError("--no-answers hides what a file of remarks says is to be decided: name it with --remarks")
        return None
    if not remarks.exists():
        raise UsageError(f"{remarks} is not there: the stand writes such a file, at Teacher and pupil")
    return Letter(read_remarks(remarks), no_answers)


def _tell(made: Made, output: Path, *, as_json: bool) -> None:
    from appui.cli.show import print_json

    if as_json:
        print_json({"files": [str(path) for path in made.files], "bytes": made.size, "signs": made.signs})
    else:
        click.echo(f"{output}  {counted(made.signs, 'ornament')}, {made.size / 1e6:.1f} MB")


def _warn_if_large(output: Path, size: int) -> None:
    from appui.page.build import LARGE_BYTES

    if size > LARGE_BYTES:
        click.echo(
            f"note: {output} is larger than {LARGE_BYTES / 1e6:.0f} MB and may open slowly: name fewer --bars, or keep "
            "the sound beside it with --folder",
            err=True,
        )
