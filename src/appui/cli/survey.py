"""The command `survey`: every ornament with its harmony and the way of playing it."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import REPLACE, WRITES, WRITES_TEXT, command
from appui.cli.options import BARS, HARMONY, JSON, PLAN, SCORE, SOLO, STYLE, TEMPO, YEAR, options, wishes_of

__all__ = ["survey"]


@command(epilog="Example: appui survey sonata.musicxml --solo oboe --bars 1-16")
@options(SCORE, SOLO)
@click.option("--all-parts", is_flag=True, help="The ornaments of every part, not of the solo alone.")
@options(STYLE, PLAN, BARS, TEMPO)
@click.option("--plan-out", type=WRITES_TEXT, metavar="FILE", help="Write the choices as a plan to edit.")
@click.option("--harmony-out", type=WRITES_TEXT, metavar="FILE", help="Write guessed chords as a chart to correct.")
@REPLACE
@click.option(
    "--sheet",
    type=WRITES,
    metavar="FILE",
    help="Write a sheet to print, .pdf or .html: each ornament's bar, chord, decision and reason, and a box to tick.",
)
@click.option("--doubtful-first", is_flag=True, help="On the sheet, what is doubtful before all else.")
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
    replace: bool,
    sheet: Path | None,
    doubtful_first: bool,
    written_out: bool,
    chart: Path | None,
    year: int | None,
    as_json: bool,
) -> None:
    """List every ornament: the chord under it, how it would be played, and why."""
    from appui.cli.show import print_json, print_notices, print_survey, print_written_out, working, write_text
    from appui.compare.survey import select, survey_record, written_out_notes
    from appui.interpret.interpretation import interpret, plan_notices
    from appui.interpret.planned import plan_of
    from appui.sound.files import write_whole

    with working("reading"):
        interpretation = interpret(
            score, wishes_of(solo=solo, style=style, plan=plan, tempo=tempo, year=year, chart=chart)
        )
        signs = select(interpretation, all_parts=all_parts, bars=bars)
        _ = interpretation.choices
    print_notices(plan_notices(interpretation))
    if plan_out is not None:
        write_text(plan_out, plan_of(interpretation, signs, plan_out), replace=replace)
        click.echo(f"plan written: {plan_out}", err=True)
    if harmony_out is not None:
        from appui.accompany.propose import chart_text

        text = chart_text(interpretation.score, interpretation.solo, toml=harmony_out.suffix.lower() == ".toml")
        write_text(harmony_out, text, replace=replace)
        click.echo(f"chart written: {harmony_out}; every chord in it is a guess to correct", err=True)
    if sheet is not None:
        from appui.page.survey_sheet import rows_of, sheet_bytes

        data, pages = sheet_bytes(
            score, interpretation, rows_of(interpretation, signs, doubtful_first=doubtful_first), sheet
        )
        write_whole(sheet, data)
        click.echo(f"sheet written: {sheet}, {pages} page{'' if pages == 1 else 's'}", err=True)
    found = written_out_notes(interpretation, all_parts=all_parts, bars=bars) if written_out else None
    if as_json:
        print_json(survey_record(interpretation, signs, found))
    else:
        print_survey(interpretation, signs)
        if found is not None:
            print_written_out(found)
