"""The command `embellish`: what the page leaves to the player, proposed, heard, kept in a plan."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import REPLACE, WRITES, WRITES_TEXT, command
from appui.cli.options import (
    HARMONY,
    JSON,
    PATTERN,
    PLAN,
    SCORE,
    SOLO,
    SOUNDFONT,
    STYLE,
    TEMPO,
    Between,
    options,
    wishes_of,
)
from appui.embellish.manners import MANNERS
from appui.embellish.model import AMOUNTS, KINDS
from appui.errors import UsageError
from appui.exact import fraction_of

if TYPE_CHECKING:
    from appui.embellish.choose import Found
    from appui.embellish.model import LeftAlone
    from appui.interpret.interpretation import Interpretation
    from appui.score.pitch import Pitch

__all__ = ["embellish"]


@command(
    epilog="Example: appui embellish sonata.musicxml --kind cadenza --range C4-D6 --out heard --plan-out mine.toml"
)
@options(SCORE, SOLO)
@click.option("--at", "places", multiple=True, metavar="PLACE", help="Only here. Repeatable.  [default: where it fits]")
@click.option("--kind", "kinds", multiple=True, type=click.Choice(tuple(KINDS)), help="Only such places. Repeatable.")
@click.option(
    "--how-much",
    type=click.Choice(AMOUNTS),
    default="moderate",
    show_default=True,
    help="How much of the movement is varied.",
)
@click.option(
    "--manner", type=click.Choice(tuple(MANNERS)), default="free", show_default=True, help="How it is varied."
)
@click.option("--count", type=click.IntRange(1, 12), default=4, show_default=True, help="Proposals for each place.")
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="Another number gives other proposals."
)
@click.option(
    "--range", "bounds", metavar="LOW-HIGH", help="Your range as written: C4-D6.  [default: the instrument's]"
)
@click.option(
    "--breath",
    type=Between(2, 60),
    default=10,
    show_default=True,
    metavar="SECONDS",
    help="How long your breath lasts.",
)
@options(STYLE, PLAN, TEMPO)
@click.option("--out", type=WRITES, metavar="FOLDER", help="Write them to hear, beside the plain notes.")
@click.option(
    "--format", "suffix", type=click.Choice(["mid", "wav", "flac", "ogg", "mp3"]), default="wav", show_default=True
)
@click.option("--plan-out", type=WRITES_TEXT, metavar="FILE", help="Write them into a plan: see --keep.")
@REPLACE
@click.option(
    "--keep",
    "keeps",
    multiple=True,
    metavar="PLACE=NUMBER",
    help="The proposal that the plan plays; all=1 plays number 1 everywhere. Repeatable.  [default: 1 at each --at]",
)
@options(HARMONY, PATTERN, SOUNDFONT, JSON)
def embellish(
    score: Path,
    solo: str | None,
    places: tuple[str, ...],
    kinds: tuple[str, ...],
    how_much: str,
    manner: str,
    count: int,
    seed: int,
    bounds: str | None,
    breath: float,
    style: str | None,
    plan: Path | None,
    tempo: str | None,
    out: Path | None,
    suffix: str,
    plan_out: Path | None,
    replace: bool,
    keeps: tuple[str, ...],
    chart: Path | None,
    pattern: str,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Propose cadenzas, lead-ins and small variations where the harmony leaves room.

    To leave it as printed is always one of the proposals. All keep to the harmony, your range and one breath; your
    teacher, the edition and your ear decide.
    """
    from appui.cli.show import print_json, progress, working, write_text
    from appui.embellish.keep import hear, kept_of, plan_with, proposals_record
    from appui.embellish.model import Wish
    from appui.embellish.proposing import propose_wished
    from appui.interpret.interpretation import interpret

    low, high = _range(bounds)
    if keeps and plan_out is None:
        raise UsageError("--keep says what a plan plays; name the plan with --plan-out")
    with working("reading"):
        wishes = wishes_of(solo=solo, style=style, plan=plan, tempo=tempo, chart=chart, pattern=pattern)
        interpretation = interpret(score, wishes)
        wish = Wish(places, kinds, how_much, count, seed, low, high, fraction_of(str(breath)), manner)
        found, left = propose_wished(interpretation, wish)
        kept = kept_of(found, keeps, [each.place.place for each in found] if places else ())
    if plan_out is not None:
        write_text(plan_out, plan_with(interpretation, found, kept, plan_out), replace=replace)
        click.echo(f"plan written: {plan_out}; {len(kept)} of {len(found)} places embellished in it", err=True)
    written = []
    if out is not None:
        say = progress(len(found))
        written = hear(interpretation, found, out, [tempo or "100%"], suffix="." + suffix, soundfont=soundfont, say=say)
    if as_json:
        files = [{"place": e.place, "reading": e.reading, "file": e.file} for e in written]
        print_json(proposals_record(interpretation, found, left) | ({"files": files} if out is not None else {}))
    else:
        _print(interpretation, found, left)
        if written:
            click.echo(f"{len(written)} files in {out}: in each place's folder 'one after another' begins as printed.")


def _range(text: str | None) -> tuple[Pitch | None, Pitch | None]:
    from appui.score.pitch import parse_pitch

    if text is None:
        return None, None
    try:
        low, high = (parse_pitch(word.strip()) for word in text.split("-"))
    except ValueError:
        raise UsageError(f"range {text!r} is not two pitches such as C4-D6") from None
    if low.midi >= high.midi:
        raise UsageError(f"range {text!r} ends no higher than it begins")
    return low, high


def _print(interpretation: Interpretation, found: Sequence[Found], left: Sequence[LeftAlone]) -> None:
    """Every place with its proposals, and what is left alone."""
    from appui.cli.show import print_head, print_proposals

    print_head(interpretation)
    if not found:
        click.echo("There is no place here to add anything.")
    print_proposals(found, left)
