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
    "MOVEMENT",
    "PLAN",
    "SCORE",
    "SLOWING",
    "SOLO",
    "SOUNDFONT",
    "STROKES",
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


def _kept_aside(context: click.Context, option: click.Parameter, value: Any) -> Any:
    """Keep what an option says for `wishes_of`: it is a wish in every command, and nothing else there."""
    context.meta[f"{__name__}.{option.name}"] = value
    return value


def _aside(name: str) -> Any:
    context = click.get_current_context(silent=True)
    return context.meta.get(f"{__name__}.{name}") if context is not None else None


MOVEMENT = click.option(
    "--movement",
    metavar="N",
    expose_value=False,
    callback=_kept_aside,
    help="One movement of a file that has several: its number, or words over it such as adagio.",
)
_SCORE = click.argument("score", type=READS)


def SCORE(command: Callable[..., Any]) -> Callable[..., Any]:  # noqa: N802 - used as the options beside it
    """The score, and which movement of it."""
    return _SCORE(MOVEMENT(command))


def _first_of(context: click.Context, option: click.Parameter, value: tuple[str, ...]) -> str | None:
    """The first solo; those beside it are kept for `wishes_of`."""
    _kept_aside(context, option, value[1:])
    return value[0] if value else None


SOLO = click.option(
    "--solo",
    multiple=True,
    metavar="PART",
    callback=_first_of,
    help="The solo part: its name, its beginning, or its number. Guessed if left out. Repeatable, for two solos.",
)
STROKES = click.option(
    "--strokes",
    type=click.Choice(["by-habit", "as-printed", "ignore"]),
    expose_value=False,
    callback=_kept_aside,
    help="A stroke through the stem of a small note: judged by how this print uses strokes; always short, as printed; "
    "or taken as if it were not there.  [default: by-habit]",
)
_STYLE = click.option(
    "--style",
    metavar="NAME",
    help="Whose rules decide: a name from `appui styles`, or a .toml file of your own.  [default: harmony]",
)


def STYLE(command: Callable[..., Any]) -> Callable[..., Any]:  # noqa: N802 - used as the options beside it
    """Whose rules, and what they are to make of the print."""
    return _STYLE(STROKES(command))


PLAN = click.option(
    "--plan",
    type=READS,
    metavar="FILE",
    help="Your plan of decisions, made with `survey --plan-out`.",
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
    help="A chart of chords by bar and beat, for a score that has none: see `appui manual scores`.",
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
    help="How many times its printed length a fermata lasts, all parts waiting.  [default: 2; 1 plays on]",
)
SHAPE = click.option(
    "--shape",
    type=click.Choice(["plain", "shaped"]),
    default="shaped",
    show_default=True,
    help="plain: loud and soft only as printed; shaped: as players were measured to play, such as the upper voice and "
    "high notes louder.",
)


def time_option(default: str, words: str) -> Callable[..., Any]:
    """Whether the beat is even; `words` say what this command makes of a beat that is not."""
    return click.option(
        "--time",
        type=click.Choice(["strict", "shaped"]),
        default=default,
        show_default=True,
        help=f"strict: the beat changes only where that is printed; shaped: it also gives and takes as players do, "
        f"{words}.",
    )


TRACK_TIME = time_option("strict", "and the click goes with it")
_SLOWING = click.option(
    "--slowing",
    type=click.Choice(["scaled", "natural"]),
    default="scaled",
    show_default=True,
    help="Below tempo: everything slower alike, or short graces and trills at their own speed.",
)
_SLOW_TRILLS = click.option(
    "--slow-trills",
    type=Between(2, 20),
    metavar="N",
    expose_value=False,
    callback=_kept_aside,
    help="Trills begin measured: N notes a second up to half tempo, from there quicker, at full tempo as usual.",
)


def SLOWING(command: Callable[..., Any]) -> Callable[..., Any]:  # noqa: N802 - used as the options beside it
    """What becomes of ornaments below tempo."""
    return _SLOWING(_SLOW_TRILLS(command))


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
    help="When the music was written: in early music some signs mean another thing, and players of today go by the "
    "period.  [default: as the file says]",
)
TAKE = click.option(
    "--take",
    "takes",
    multiple=True,
    metavar="PLACE=WAY",
    help="Play the ornament at this place so: oboe.12.3='leaning 1/2'. Repeatable.",
)


def wishes_of(**words: Any) -> Wishes:
    """What was typed, as the rooms take it."""
    from appui.interpret.wishes import Wishes

    words["slow_trills"] = _aside("slow_trills")
    for name in ("hold", "weight_db", "written_out_db", "slow_trills"):
        if words.get(name) is not None:
            words[name] = fraction_of(str(words[name]))
    if _aside("strokes") in ("as-printed", "ignore"):
        words["strokes"] = _aside("strokes")
    return Wishes(movement=_aside("movement"), also=tuple(_aside("solo") or ()), **words)
