"""Options and arguments that several commands share, each written once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from appui.cli.command import READS
from appui.exact import fraction_of

if TYPE_CHECKING:
    from appui.interpret.wishes import Wishes

__all__ = [
    "BARS",
    "Between",
    "HOLD",
    "JSON",
    "PLAN",
    "SCORE",
    "SOLO",
    "SOUNDFONT",
    "STYLE",
    "TAKE",
    "TEMPO",
    "TRANSPOSE",
    "YEAR",
    "options",
    "wishes_of",
]


def options(*options: Callable[..., Any]) -> Callable[..., Any]:
    """Several options at once, in the order they are to be listed."""

    def add(command: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            command = option(command)
        return command

    return add


class Between(click.FloatRange):
    """A number between two; `nan`, which is neither below nor above them, is none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number; raises click's own error."""
        number = float(super().convert(value, param, ctx))
        return number if number == number else self.fail("nan is no number", param, ctx)  # noqa: PLR0124


SCORE = click.argument("score", type=READS)
SOLO = click.option(
    "--solo", metavar="PART", help="The solo part: its name, its beginning, or its number. Guessed if left out."
)
STYLE = click.option(
    "--style", metavar="NAME", help="Whose rules: see `appui styles`; or a .toml file of your own.  [default: harmony]"
)
PLAN = click.option(
    "--plan",
    type=READS,
    metavar="FILE",
    help="Your plan of readings, made with `survey --plan-out`.",
)
BARS = click.option("--bars", metavar="A-B", help="Only these bars, by printed number: 5-12, or 7.")
TEMPO = click.option("--tempo", metavar="T", help="Practice tempo: 60% of the written one, or 72 beats a minute.")
SOUNDFONT = click.option("--soundfont", type=READS, metavar="FILE", help="Another SoundFont (.sf2).")
JSON = click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
HARMONY = click.option(
    "--harmony",
    "chart",
    type=READS,
    metavar="FILE",
    help="A chart of chords by bar and beat, where the score has none: see `survey --harmony-out`.",
)
PATTERN = click.option(
    "--pattern",
    type=click.Choice(["held", "offbeats", "alberti", "arpeggio", "none"]),
    default="held",
    show_default=True,
    help="How chord symbols or a chart are played; figures are played as plain chords.",
)
HOLD = click.option(
    "--hold",
    type=Between(1, 20),
    metavar="TIMES",
    help="How many times its length a fermata lasts, all parts waiting.  [default: 2; 1 plays on]",
)
TRANSPOSE = click.option(
    "--transpose",
    metavar="KEY",
    help="Write the solo for an instrument in this key, the note that sounds where C is read: Bb, A, F, C; "
    "'Eb high' for one that sounds higher than written.",
)
YEAR = click.option(
    "--year",
    type=click.IntRange(1500, 2100),
    metavar="Y",
    help="When the music is from, to tell what players do in it.  [default: from the file's composer line]",
)
TAKE = click.option(
    "--take",
    "takes",
    multiple=True,
    metavar="PLACE=READING",
    help="Take this reading here: oboe.12.3='leaning 1/2'. Repeatable.",
)


def wishes_of(**words: Any) -> Wishes:
    """What was typed, as the rooms take it."""
    from appui.interpret.wishes import Wishes

    for name in ("hold", "weight_db", "written_out_db"):
        if words.get(name) is not None:
            words[name] = fraction_of(str(words[name]))
    return Wishes(**words)
