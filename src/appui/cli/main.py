"""The command line: words typed become calls into the rooms. Nothing heavy is loaded before a command runs.

Exit status: 0 done, 1 something given cannot be used, 2 words that cannot be meant.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
import threading
from dataclasses import asdict
from importlib import import_module
from pathlib import Path

import click

from appui import __version__
from appui.cli.options import (
    BARS,
    HARMONY,
    HOLD,
    JSON,
    PATTERN,
    PLAN,
    SCORE,
    SOLO,
    SOUNDFONT,
    STYLE,
    TAKE,
    TEMPO,
    YEAR,
    Between,
    options,
    wishes_of,
)
from appui.errors import AppuiError

__all__ = ["cli", "main", "run"]

CAUTION = (
    "Hearing: start with the volume low; no program can know how loud it is at your ear. Strain: rest before it hurts. "
    "The tool advises: your teacher, the edition and your ear decide."
)


#  commands in modules of their own, by the command's name: loaded when one is asked for
_ELSEWHERE = ("practice", "play", "embellish", "drill", "progress", "notate", "batch", "page")


class _Group(click.Group):
    """Commands in the order a player meets them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [*self.commands, *_ELSEWHERE]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _ELSEWHERE:
            return super().get_command(ctx, cmd_name)
        command: click.Command = getattr(import_module(f"appui.cli.{cmd_name}"), cmd_name)
        return command


@click.group(
    cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110}, epilog=CAUTION
)
@click.version_option(__version__, prog_name="appui")
@click.option("--cache/--no-cache", default=True, help="Keep what is read and rendered for the next time, or not.")
def cli(cache: bool) -> None:
    """Small notes and signs of 1700-1830: judged by the harmony, realized, heard.

    Begin with `appui survey SCORE`, hear the doubtful places with `appui compare SCORE FOLDER`, then `appui render
    SCORE out.wav`.
    """
    if not cache:
        # processes that are started inherit it
        os.environ["APPUI_CACHE"] = "off"


@cli.command(epilog="Example: appui survey sonata.musicxml --solo oboe --bars 1-16")
@options(SCORE, SOLO)
@click.option("--all-parts", is_flag=True, help="Every part's signs, not the solo's alone.")
@options(STYLE, PLAN, BARS, TEMPO)
@click.option(
    "--plan-out", type=click.Path(path_type=Path), metavar="FILE", help="Write the choices as a plan to edit."
)
@click.option(
    "--harmony-out", type=click.Path(path_type=Path), metavar="FILE", help="Write guessed chords as a chart to correct."
)
@click.option("--written-out", is_flag=True, help="List the leaning notes that are printed as full-size notes, too.")
@options(HARMONY, YEAR, JSON)
def survey(
    score: Path,
    solo: str | None,
    all_parts: bool,
    style: str | None,
    plan: Path | None,
    bars: str | None,
    tempo: str | None,
    plan_out: Path | None,
    harmony_out: Path | None,
    written_out: bool,
    chart: Path | None,
    year: int | None,
    as_json: bool,
) -> None:
    """List every sign with its harmony, its reading and why."""
    from appui.cli.show import print_json, print_survey, print_written_out, working
    from appui.compare.survey import select, survey_record, written_out_notes
    from appui.interpret.interpretation import interpret
    from appui.plan.plan import plan_text
    from appui.sound.files import write_whole

    with working("reading"):
        interpretation = interpret(
            score, wishes_of(solo=solo, style=style, plan=plan, tempo=tempo, year=year, chart=chart)
        )
        signs = select(interpretation, all_parts=all_parts, bars=bars)
        _ = interpretation.choices
    if plan_out is not None:
        text = plan_text(
            interpretation.score, interpretation.style.name, [interpretation.choices[sign.place] for sign in signs]
        )
        write_whole(plan_out, text.encode())
        click.echo(f"plan written: {plan_out}", err=True)
    if harmony_out is not None:
        from appui.accompany.propose import chart_text

        text = chart_text(interpretation.score, interpretation.solo, toml=harmony_out.suffix.lower() == ".toml")
        write_whole(harmony_out, text.encode())
        click.echo(f"chart written: {harmony_out}; every chord in it is a guess to correct", err=True)
    found = written_out_notes(interpretation, all_parts=all_parts, bars=bars) if written_out else None
    if as_json:
        print_json(survey_record(interpretation, signs, found))
    else:
        print_survey(interpretation, signs)
        if found is not None:
            print_written_out(found)


@cli.command(
    epilog="Example: appui render sonata.musicxml out.mid out.wav --bars 5-12 --tempo 60% --take oboe.7.1=passing"
)
@SCORE
@click.argument("outputs", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="OUT...")
@options(SOLO, STYLE, PLAN, TAKE, BARS, TEMPO)
@click.option(
    "--slowing",
    type=click.Choice(["scaled", "natural"]),
    default="scaled",
    show_default=True,
    help="Below tempo: everything slower alike, or short graces and trills at their own speed.",
)
@click.option(
    "--weight",
    type=Between(-12, 24),
    metavar="DB",
    help="How much louder a leaning note is than its release.  [default: the style's, 4]",
)
@click.option("--mute", type=click.Choice(["solo", "accompaniment"]), help="Leave one of them out.")
@click.option("--repeats/--no-repeats", default=True, show_default=True, help="Play repeats as printed.")
@click.option(
    "--weight-written-out",
    type=Between(-12, 24),
    metavar="DB",
    help="The same for leaning notes printed as full-size notes.  [default: as printed]",
)
@options(HARMONY, PATTERN, HOLD, YEAR, SOUNDFONT, JSON)
def render(
    score: Path,
    outputs: tuple[Path, ...],
    solo: str | None,
    style: str | None,
    plan: Path | None,
    takes: tuple[str, ...],
    bars: str | None,
    tempo: str | None,
    slowing: str,
    weight: float | None,
    mute: str | None,
    repeats: bool,
    weight_written_out: float | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    year: int | None,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Write the piece, or some bars, as MIDI (.mid) and audio (.wav .flac .ogg .mp3)."""
    from appui.cli.outputs import check_outputs, write_outputs
    from appui.cli.show import print_json, print_notices, working
    from appui.interpret.interpretation import interpret
    from appui.perform.perform import only
    from appui.perform.play import play

    check_outputs(outputs)
    with working("reading"):
        wishes = wishes_of(
            solo=solo,
            style=style,
            plan=plan,
            takes=takes,
            tempo=tempo,
            slowing=slowing,
            weight_db=weight,
            written_out_db=weight_written_out,
            chart=chart,
            pattern=pattern,
            hold=hold,
            year=year,
        )
        interpretation = interpret(score, wishes)
        performance = play(interpretation, interpretation.order(bars, repeats=repeats))
    if mute is not None:
        performance = only(performance, solo=mute == "accompaniment")
    write_outputs(performance, outputs, soundfont)
    print_notices(performance.notices)
    if as_json:
        from appui.compare.report import render_record

        print_json(render_record(interpretation, performance, outputs))
    else:
        for path in outputs:
            click.echo(f"{path}  {performance.length_s:.1f} s")


@cli.command(
    epilog="Example: appui compare sonata.musicxml heard --at oboe.12.3 --tempo 60% --tempo 100% --format flac"
)
@SCORE
@click.argument("folder", type=click.Path(path_type=Path))
@options(SOLO)
@click.option(
    "--at",
    "places",
    multiple=True,
    metavar="PLACE",
    help="Only here. Repeatable.  [default: every small note with an alternative]",
)
@click.option(
    "--style",
    "styles",
    multiple=True,
    metavar="NAME",
    help="Whose rules; several compare the styles' readings. Repeatable.",
)
@click.option(
    "--tempo", "tempos", multiple=True, metavar="T", help="Practice tempos. Repeatable.  [default: 60% and 100%]"
)
@click.option(
    "--format", "suffix", type=click.Choice(["mid", "wav", "flac", "ogg", "mp3"]), default="wav", show_default=True
)
@options(PLAN, HARMONY, PATTERN, HOLD, SOUNDFONT, JSON)
def compare(
    score: Path,
    folder: Path,
    solo: str | None,
    places: tuple[str, ...],
    styles: tuple[str, ...],
    tempos: tuple[str, ...],
    suffix: str,
    plan: Path | None,
    chart: Path | None,
    pattern: str,
    hold: float | None,
    soundfont: Path | None,
    as_json: bool,
) -> None:
    """Write short excerpts of each place in its readings, to hear one against another."""
    from appui.cli.show import print_comparison, print_json, progress, working
    from appui.compare.excerpts import compare as make
    from appui.compare.excerpts import places_to_compare
    from appui.interpret.interpretation import interpret

    tempos = tempos or ("60%", "100%")
    first = styles[0] if styles else None
    wishes = wishes_of(solo=solo, style=first, plan=plan, tempo=tempos[0], chart=chart, pattern=pattern, hold=hold)
    with working("reading"):
        interpretation = interpret(score, wishes)
        for tempo in tempos:
            interpretation.at_tempo(tempo).check()
        signs = places_to_compare(interpretation, places)
    if not signs:
        click.echo("no small note of the solo has another reading to hear: nothing written", err=True)
    written = make(
        interpretation,
        folder,
        signs,
        tempos,
        styles=styles,
        suffix="." + suffix,
        soundfont=soundfont,
        say=progress(len(signs) * len(tempos)),
    )
    if as_json:
        print_json({"folder": str(folder), "files": [asdict(excerpt) for excerpt in written]})
    else:
        print_comparison(interpretation, signs, written, folder)


@cli.command(
    epilog="Example: appui styles bach-1753; appui styles --compare oboe.12.3 sonata.musicxml; "
    "appui styles --export rules.json"
)
@click.argument("name", required=False, metavar="[NAME | SCORE]")
@click.option("--compare", "place", metavar="PLACE", help="One place of SCORE through all the sources.")
@click.option(
    "--export", type=click.Path(path_type=Path), metavar="FILE", help="Write every rule and pattern as one JSON file."
)
@options(SOLO, YEAR, JSON)
def styles(
    name: str | None, place: str | None, export: Path | None, solo: str | None, year: int | None, as_json: bool
) -> None:
    """List the styles, digest one source, or hold one place against all of them."""
    from appui.cli.show import print_json, print_style, print_styles
    from appui.compare.report import style_record
    from appui.style.table import load_style, style_names

    if export is not None:
        _export(export)
    if place is not None:
        if name is None:
            raise click.UsageError("--compare needs the score: appui styles --compare PLACE SCORE")
        _compare_styles(Path(name), place, solo, year, as_json=as_json)
    elif name is not None or export is None:
        found = [load_style(name)] if name else [load_style(each) for each in style_names()]
        if as_json:
            print_json(style_record(found[0]) if name else {"styles": [style_record(style) for style in found]})
        elif name:
            print_style(found[0])
        else:
            print_styles(found)


def _export(path: Path) -> None:
    import json

    from appui.compare.sources import published
    from appui.sound.files import write_whole

    write_whole(path, (json.dumps(published(), ensure_ascii=False, indent=1) + "\n").encode())
    click.echo(f"rules written: {path}", err=True)


def _compare_styles(score: Path, place: str, solo: str | None, year: int | None, *, as_json: bool) -> None:
    from appui.cli.show import print_json, print_opinions
    from appui.compare.sources import opinions, practice_at
    from appui.interpret.interpretation import interpret

    interpretation = interpret(score, wishes_of(solo=solo, year=year))
    sign = interpretation.sign_at(place)
    found = opinions(interpretation, sign)
    if as_json:
        practice = practice_at(interpretation, sign)
        print_json({"place": place, "opinions": [opinion._asdict() for opinion in found], "practice": practice})
    else:
        print_opinions(interpretation, sign, found)


@cli.command(epilog="Example: appui accompany song.musicxml piano.musicxml --pattern alberti")
@SCORE
@click.argument("output", type=click.Path(path_type=Path), metavar="OUT.musicxml")
@options(SOLO, HARMONY, PATTERN)
def accompany(score: Path, output: Path, solo: str | None, chart: Path | None, pattern: str) -> None:
    """Write the accompaniment made from figures, chord symbols or a chart as MusicXML."""
    from appui.accompany.write import accompaniment_xml
    from appui.interpret.interpretation import interpret
    from appui.sound.files import write_whole

    if output.suffix.lower() not in (".musicxml", ".xml"):
        raise click.UsageError(f"{output} ends in {output.suffix or 'no suffix'}; name it .musicxml")
    interpretation = interpret(score, wishes_of(solo=solo, chart=chart, pattern=pattern))
    write_whole(output, accompaniment_xml(interpretation.score))
    click.echo(f"{output}  {interpretation.score.parts[-1].name}")


@cli.command(epilog="Example: appui demo heard")
@click.argument("folder", type=click.Path(path_type=Path), default=Path("appui-demo"))
def demo(folder: Path) -> None:
    """Run the main job on an invented slow movement for oboe and strings, and say how to listen to it."""
    from appui.cli.demo import run_demo

    run_demo(folder)


def main() -> None:
    """Entry point: errors of ours become one sentence on standard error."""
    # a score is tens of thousands of small objects without cycles: collecting seldom saves a third of the time
    gc.set_threshold(200_000, 20, 100)
    # the matrices are small: numpy's threads would wait for one another longer than they work
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        cli(standalone_mode=False)
    except click.exceptions.Exit as leaving:
        sys.exit(leaving.exit_code)
    except click.exceptions.Abort:
        click.echo("stopped: nothing more is written", err=True)
        sys.exit(1)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except AppuiError as error:
        click.echo(f"appui: {error}", err=True)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)


def run() -> None:
    """The program: `main`, and out.

    What is to be done at the end is done and flushed; then the process ends without taking down modules and objects one
    by one, which is a tenth of the time of a rendering. With other threads at work it ends in the usual way.
    """
    status = 0
    try:
        main()
    except SystemExit as leaving:
        if not isinstance(leaving.code, int | None):
            raise
        status = leaving.code or 0
    if threading.active_count() > 1:
        sys.exit(status)
    atexit._run_exitfuncs()  # noqa: SLF001 - what `os._exit` leaves out
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):  # a closed pipe: the usual way says so
        sys.exit(status)
    os._exit(status)


if __name__ == "__main__":
    run()
