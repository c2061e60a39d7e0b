"""The command `styles`: the sources, one of them, or one place through all of them."""

from __future__ import annotations

from pathlib import Path

import click

from appui.cli.command import READS, WRITES, command
from appui.cli.options import JSON, MOVEMENT, SOLO, STROKES, YEAR, options, wishes_of

__all__ = ["styles"]


@command(
    epilog="Example: appui styles bach-1753; appui styles --compare oboe.12.3 sonata.musicxml; "
    "appui styles --export rules.json"
)
@click.argument("name", required=False, type=READS, metavar="[NAME | SCORE]")
@click.option("--compare", "place", metavar="PLACE", help="One place of SCORE through all the sources.")
@click.option("--export", type=WRITES, metavar="FILE", help="Write every rule and pattern as one JSON file.")
@options(MOVEMENT, SOLO, STROKES, YEAR, JSON)
def styles(
    name: Path | None, place: str | None, export: Path | None, solo: str | None, year: int | None, as_json: bool
) -> None:
    """List the sources, tell what one of them says, or take one place through them all."""
    from appui.cli.show import print_json, print_style, print_styles
    from appui.compare.report import style_record
    from appui.style.table import load_style, style_names

    if export is not None:
        _export(export)
    if place is not None:
        if name is None:
            raise click.UsageError("--compare needs the score: appui styles --compare PLACE SCORE")
        _compare_styles(name, place, solo, year, as_json=as_json)
    elif name is not None or export is None:
        found = [load_style(str(name))] if name else [load_style(each) for each in style_names()]
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

    if path.suffix.lower() != ".json":
        raise click.UsageError(f"{path} ends in {path.suffix or 'no suffix'}; the rules are written as .json")
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
