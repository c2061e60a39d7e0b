"""The command `demo`: an invented movement, from the survey to audio."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from appui.cli.command import WRITES, command
from appui.errors import SoundError

if TYPE_CHECKING:
    from appui.interpret.interpretation import Interpretation
    from appui.score.signs import Sign

__all__ = ["TEMPOS", "demo"]

TEMPOS = ("50%", "75%", "100%")


@command(epilog="Example: appui demo heard")
@click.argument("folder", type=WRITES, default=Path("appui-demo"))
def demo(folder: Path) -> None:
    """Judge and play an invented movement for oboe and strings, and say how to listen."""
    _run(folder)


def _run(folder: Path) -> None:
    """Survey, compare three places at three tempos, render the whole; then say what there is and how to listen."""
    from appui.cli.show import print_survey, write_text
    from appui.compare.survey import select
    from appui.demo import TELLING, bare_andante, demo_score, figured_sonata, lead_sheet
    from appui.interpret.interpretation import interpret
    from appui.interpret.planned import plan_of
    from appui.sound.files import make_folder, write_whole

    interpretation = interpret(demo_score())
    make_folder(folder)
    signs = select(interpretation, all_parts=False, bars=None)
    print_survey(interpretation, signs)
    for score in (bare_andante(), figured_sonata(), lead_sheet(), demo_score()):
        write_whole(folder / score.name, score.read_bytes())
    plan = folder / "plan.toml"
    write_text(plan, plan_of(interpretation, signs, plan), replace=True)
    places = [interpretation.sign_at(place) for place in TELLING]
    suffix = _heard(interpretation, folder, places)
    _say(folder, score.name, places, suffix)


def _heard(interpretation: Interpretation, folder: Path, places: list[Sign]) -> str:
    """Write MIDI, and audio where there is a synthesizer; returns the suffix of the comparison."""
    from appui.cli.show import progress
    from appui.compare.excerpts import compare
    from appui.perform.play import play
    from appui.sound.save import save

    wishes = replace(interpretation.wishes, shape="shaped", time="shaped")
    whole = play(replace(interpretation, wishes=wishes), interpretation.order(None, repeats=True))
    save(whole, [folder / "whole.mid"], None)
    say = progress(len(places) * len(TEMPOS))
    try:
        save(whole, [folder / "whole.wav"], None)
        compare(interpretation, folder / "readings", places, TEMPOS, say=say)
    except SoundError as error:
        click.echo(f"appui: no audio: {error}", err=True)
        compare(interpretation, folder / "readings", places, TEMPOS, suffix=".mid", say=say)
        return ".mid"
    return ".wav"


def _say(folder: Path, score: str, places: list[Sign], suffix: str) -> None:
    click.echo(f"\nMade in {folder}:")
    whole = "whole.mid and whole.wav" if suffix == ".wav" else "whole.mid"
    click.echo(f"  {whole}: the movement with its repeat, every ornament played")
    click.echo(
        f"  readings/: {', '.join(sign.place for sign in places)}, each way of playing at {', '.join(TEMPOS)}, "
        "all equally loud"
    )
    click.echo("  plan.toml: the choices with their reasons, to edit; then:")
    click.echo(f"    appui render {folder / score} out.mid --plan {folder / 'plan.toml'}")
    click.echo("  three more scores, which the manual's examples are about: `appui manual start`")
    click.echo("Listen first to 'one after another' in a folder of readings/ at 50 percent: clicks come before each.")
    click.echo("Ask of each: which note has the stress, and does the bass move under it? Start with the volume low.")
