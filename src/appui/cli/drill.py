"""The command `drill`: ear training at the terminal, as a page, or as a sheet for a class."""

from __future__ import annotations

import secrets
import uuid
from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.options import MOVEMENT, SOLO, SOUNDFONT, TEMPO, options, wishes_of
from appui.cli.practice import CAUTION
from appui.errors import UsageError, shown
from appui.exact import Fraction

if TYPE_CHECKING:
    from appui.drill.kinds import Kind
    from appui.drill.store import Store
    from appui.drill.trial import Material

__all__ = ["PLAYER", "STORE", "drill"]

PLAYER = click.option(
    "--player", metavar="NAME", default="me", show_default=True, help="Who listens: results are kept by name."
)
STORE = click.option(
    "--store",
    type=READS,
    metavar="FILE",
    help="The file the results are kept in.  [default: in your data folder]",
)
TRIALS, ON_SHEET = 50, 12
LONGEST_NAME = 60
_EPILOG = (
    "Kinds: lean-or-pass, heavier, longer, member-or-dissonance, which-reading, trill-start; left out, the one drilled "
    "least lately. Without SCORE the phrases are invented, in all keys. Example: appui drill heavier --trials 40; "
    f"appui drill lean-or-pass sonata.musicxml --solo oboe.  {CAUTION}"
)


@command(epilog=_EPILOG)
@click.argument("words", nargs=-1, type=READS, metavar="[KIND] [SCORE...]")
@click.option("--from", "source", type=click.Choice(["demo"]), help="The demo's places instead of invented phrases.")
@click.option(
    "--trials",
    type=click.IntRange(1, 500),
    metavar="N",
    help=f"At most so many.  [default: {TRIALS}; {ON_SHEET} for a sheet]",
)
@options(TEMPO, MOVEMENT, SOLO, PLAYER)
@click.option("--seed", metavar="S", help="A word or number that decides what is asked: the same again asks the same.")
@click.option(
    "--down",
    type=click.IntRange(2, 3),
    default=3,
    show_default=True,
    help="Right answers in a row before it gets harder: 3 settles at 79 % right, 2 at 71 %.",
)
@click.option("--page", type=WRITES, metavar="OUT.html", help="Write the drill as a page instead.")
@click.option("--sheet", type=WRITES, metavar="FOLDER", help="Write sound files, a sheet and a key instead.")
@options(STORE, SOUNDFONT)
@click.option("--driver", metavar="NAME", help="A sound driver of FluidSynth's, such as alsa.  [default: the system's]")
def drill(
    words: tuple[Path, ...],
    source: str | None,
    trials: int | None,
    tempo: str | None,
    solo: str | None,
    player: str,
    seed: str | None,
    down: int,
    page: Path | None,
    sheet: Path | None,
    store: Path | None,
    soundfont: Path | None,
    driver: str | None,
) -> None:
    """Train the ear: does it lean, how heavy, how long, does it belong to the chord.

    The exercises get harder as you succeed.

    Keys: 1, 2, 3 answer, r plays again, q stops; what was answered is kept.
    """
    from appui.drill.kinds import KINDS
    from appui.drill.sitting import Sitting
    from appui.drill.store import Store
    from appui.drill.terminal import hold_sitting

    if page is not None and sheet is not None:
        raise UsageError("--page and --sheet exclude one another: give them one after the other")
    if not (0 < len(player.strip()) <= LONGEST_NAME and player.isprintable()):
        raise UsageError(f"--player {player!r:.80} is no name: give one of up to {LONGEST_NAME} letters")
    name, scores = _told(words)
    if page is not None or sheet is not None:
        kind = KINDS[name or next(iter(KINDS))]
        made = _material(kind, scores, source, tempo, solo)
        _write(kind, made, page, sheet, seed or "1", trials=trials, down=down, soundfont=soundfont)
        return
    with Store.open(store) as kept:
        kind = KINDS[name or _least_lately(kept, player)]
        material = _material(kind, scores, source, tempo, solo)
        seed = seed or secrets.token_hex(4)
        sitting = Sitting(kind, material, player, uuid.uuid4().hex, seed, down, trials or TRIALS)
        click.echo(f"{CAUTION}\n", err=True)
        hold_sitting(sitting, kept, soundfont, driver)


def _told(words: tuple[Path, ...]) -> tuple[str | None, list[Path]]:
    """The kind, if one is named, and the scores."""
    from appui.drill.kinds import KINDS

    if words and str(words[0]) in KINDS:
        return str(words[0]), list(words[1:])
    if words and not words[0].exists():
        raise UsageError(f"{shown(words[0])!r} is neither a file nor a kind of drill; kinds are {', '.join(KINDS)}")
    return None, list(words)


def _least_lately(kept: Store, player: str) -> str:
    from appui.drill.kinds import KINDS

    last = {row.kind: place for place, row in enumerate(kept.rows(player))}
    return min(KINDS, key=lambda name: last.get(name, -1))


def _material(kind: Kind, scores: list[Path], source: str | None, tempo: str | None, solo: str | None) -> Material:
    from appui.cli.show import working
    from appui.demo import demo_score
    from appui.drill.invent import ROWS, invented
    from appui.drill.places import usable
    from appui.drill.trial import Material
    from appui.interpret.interpretation import interpret
    from appui.interpret.tempo import tempo_factor

    scores = [demo_score(), *scores] if source == "demo" else scores
    if not scores:
        factor = tempo_factor(tempo, invented(ROWS[0], ("G4", "C5", "E5"), 0).score) if tempo else Fraction(1)
        return Material((), factor)
    with working("reading"):
        interpretations = [interpret(score, wishes_of(solo=solo, tempo=tempo)) for score in scores]
        found = tuple(phrase for interpretation in interpretations for phrase in usable(interpretation, kind))
    material = Material(found)
    for lack in material.lacks(kind):
        click.echo(f"note: no place there {lack}: invented phrases stand in", err=True)
    return material


def _write(
    kind: Kind,
    material: Material,
    page: Path | None,
    sheet: Path | None,
    seed: str,
    *,
    trials: int | None,
    down: int,
    soundfont: Path | None,
) -> None:
    from appui.cli.show import progress
    from appui.drill.page import make_page
    from appui.drill.sheet import make_sheet

    if page is not None:
        most = trials or TRIALS
        size = make_page(kind, material, page, seed, trials=most, down=down, soundfont=soundfont, say=progress())
        click.echo(f"{page}  {kind.name}, {size / 1e6:.1f} MB")
    if sheet is not None:
        count = trials or ON_SHEET
        make_sheet(kind, material, sheet, seed, count, soundfont=soundfont, say=progress(count))
        click.echo(f"{sheet}  {kind.name}: {count} files, answers.html to mark, key.html with the reasons")
