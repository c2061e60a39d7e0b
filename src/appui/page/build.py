"""The page as one HTML file, or as an HTML file with a folder of sound beside it.

Nothing is fetched: pictures, sound, font, program and data are in the file, and a Content-Security-Policy forbids the
browser every request. With a folder the sound comes as scripts, the one thing a browser loads from beside a local file.
Text of the score gets into the page as JSON with every ``<``, ``>`` and ``&`` escaped, or through HTML escaping.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import html
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from appui.errors import UsageError
from appui.interpret.interpretation import Interpretation, plan_notices
from appui.interpret.realizing import realize
from appui.page.engrave import Engraver, Layout
from appui.page.letter import Letter
from appui.page.marked import Marked, mark_score
from appui.page.passages import Heard, find_passages, passages_under
from appui.page.record import Picture, labels_of, page_record, readings_at
from appui.page.sheets import Sheet, Wanted, make_sheets
from appui.page.staves import Staves, written_staves
from appui.score.repeats import once
from appui.score.signs import EMBELLISHMENT, Sign
from appui.sound.files import check_place, make_folder, whole_file, write_whole
from appui.text import filled

__all__ = ["LARGE_BYTES", "Made", "PAPER", "WIDTHS", "engrave_signs", "json_for_script", "make_page", "score_html"]

LARGE_BYTES = 25_000_000
#  layouts for a screen on a desk or a stand, and for a telephone: width in the engraver's units, letters
WIDTHS = {"wide": (2000, 340), "narrow": (1000, 360)}
#  for paper: on A4 a staff of 5.4 mm, so that three systems of four staves stand on a page
PAPER = {"paper": (2500, 380)}
#  pictures beyond this are packed; below it they are readable in the file
_PACK_BYTES = 3_000_000
_SCRIPTS = (
    "make.js", "data.js", "words.js", "inflate.js", "sheets.js", "stretch.js", "sound.js", "score.js", "spots.js",
    "table.js", "choices.js", "plan.js", "blind.js", "panel.js", "transport.js", "letter.js", "main.js",
)  # fmt: skip
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Made:
    """What was written: the files, the size of all of them in bytes, and how many signs are on the page.

    `notices` are what had to be said while realizing the solo: (place, words).
    """

    files: tuple[Path, ...]
    size: int
    signs: int
    notices: tuple[tuple[str, str], ...] = ()


def make_page(
    interpretation: Interpretation,
    score: Path,
    output: Path,
    signs: Sequence[Sign],
    bars: tuple[int, int],
    tempos: Sequence[str],
    *,
    styles: Sequence[str] = (),
    soundfont: Path | None = None,
    folder: bool = False,
    letter: Letter | None = None,
    say: Say = lambda words: None,
) -> Made:
    """Write the page of some signs, in bars of the given indices (inclusive), to be heard at the tempos.

    `letter` are a teacher's remarks, the places to be decided, and whether the answers there are hidden. Raises the
    errors of reading, engraving, rendering and writing.
    """
    if output.suffix.lower() not in (".html", ".htm"):
        raise UsageError(f"{output} ends in {output.suffix or 'no suffix'}; a page ends in .html")
    check_place(output)
    at_tempos = [interpretation.at_tempo(tempo) for tempo in tempos]
    marked = mark_score(score, [sign for sign in signs if sign.kind == EMBELLISHMENT], interpretation)
    say("engraving")
    layouts, pictures = engrave_signs(interpretation, signs, marked, bars, WIDTHS | PAPER)
    realized = [sign for sign in signs if interpretation.choices[sign.place].realized]
    readings = {sign.place: readings_at(interpretation, sign, styles) for sign in realized}
    passages = (*find_passages(interpretation, realized, *bars), *passages_under(interpretation, readings, *bars))
    wanted = [_wanted(Heard(at, passage), readings) for passage in passages for at in at_tempos]
    # what can be refused comes before the sound, which takes the time
    staves = written_staves(interpretation, score, readings, say)
    groups = make_sheets(wanted, soundfont, say)
    named = [(name, at.factor) for name, at in zip(tempos, at_tempos, strict=True)]
    record = page_record(interpretation, signs, passages, named, groups, pictures, readings, styles, staves)
    record["letter"] = letter.record if letter is not None else None
    sheets = [sheet for group in groups for sheet in group]
    made = _write(record, layouts, staves, sheets, output, folder=folder)
    order = once(interpretation.score.bars, *bars)
    said = realize(interpretation, order, parts=[interpretation.solo.index]).notices
    return replace(made, notices=(*plan_notices(interpretation), *said))


def engrave_signs(
    interpretation: Interpretation,
    signs: Sequence[Sign],
    marked: Marked,
    bars: tuple[int, int],
    widths: Mapping[str, tuple[int, int]] = WIDTHS,
) -> tuple[dict[str, Layout], dict[str, Picture]]:
    """The score at some widths, lettered, and the names of the drawn parts of each sign."""
    engraver = Engraver(marked, interpretation.score.file, *bars)
    pictures: dict[str, Picture] = {}
    for sign in signs:
        notes = marked.notes[sign.place]
        pictures[sign.place] = (notes.small, engraver.glyphs(sign.kind, notes.main), notes.main)
    labels = list(labels_of(interpretation, signs, pictures))
    kept = {name for small, drawn, main in pictures.values() for name in (*small, *drawn, main)}
    kept |= {f"word-{number}" for number in range(len(signs))} | engraver.bars
    return dict(zip(widths, engraver.lay_out_all(list(widths.values()), kept, labels), strict=True)), pictures


def _wanted(heard: Heard, readings: Mapping[str, Sequence[str]]) -> Wanted:
    passage = heard.passage
    stretches = [
        stretch
        for sign in (passage.signs if passage.words is None else ())
        for words in readings[sign.place][1:]
        if (stretch := heard.stretch(sign, words)) is not None
    ]
    return Wanted(heard, tuple(stretches))


def _write(
    record: dict[str, Any],
    layouts: Mapping[str, Layout],
    staves: Staves,
    sheets: Sequence[Sheet],
    output: Path,
    *,
    folder: bool,
) -> Made:
    beside = output.with_name(f"{output.stem}-sound")
    record["folder"] = beside.name if folder else ""
    written = [output]
    if folder:
        make_folder(beside)
        for number, sheet in enumerate(sheets):
            written.append(beside / f"{number}.js")
            write_whole(written[-1], f'appuiSound({number}, "{_coded(sheet)}");\n'.encode())
    with whole_file(output) as temporary, temporary.open("wb") as page:
        # piece by piece: the whole of a long page several times over is much memory
        page.writelines(piece.encode() for piece in _page(record, layouts, staves.shapes, [] if folder else sheets))
    return Made(tuple(written), sum(path.stat().st_size for path in written), len(record["signs"]))


def _coded(sheet: Sheet) -> str:
    return base64.b64encode(sheet.data).decode()


def _sounds(sheets: Sequence[Sheet]) -> Iterator[str]:
    for number, sheet in enumerate(sheets):
        yield f'<script type="text/plain" id="sound-{number}">{_coded(sheet)}</script>\n'


def _page(
    record: dict[str, Any], layouts: Mapping[str, Layout], more: Mapping[str, str], sheets: Sequence[Sheet]
) -> Iterator[str]:
    """The text of the page in pieces."""
    web = files("appui.page") / "web"
    script = "".join((web / name).read_text(encoding="utf-8") for name in _SCRIPTS)
    pictures = _packed({name: layout.systems for name, layout in layouts.items()})
    pictures["places"] = {name: layout.places for name, layout in layouts.items()}
    shapes = {name: shape for layout in layouts.values() for name, shape in layout.shapes} | dict(more)
    font = next((layout.font for layout in layouts.values() if layout.font), "")
    parts: dict[str, Iterable[str]] = {
        "TITLE": [html.escape(record["title"])],
        "POLICY": [_policy(script, beside=bool(record["folder"]))],
        "STYLE": [(web / "page.css").read_text(encoding="utf-8"), _face(font)],
        "SCORE": [score_html()],
        "SHAPES": [shapes[name] for name in sorted(shapes)],
        "RECORD": [json_for_script(record)],
        "PICTURES": [json_for_script(pictures)],
        "SOUNDS": _sounds(sheets),
        "SCRIPT": [script],
    }
    yield from filled((web / "page.html").read_text(encoding="utf-8"), parts)


def score_html() -> str:
    """The elements around the score that the page shares with the stand."""
    return (files("appui.page") / "web" / "score.html").read_text(encoding="utf-8")


def _face(font: str) -> str:
    return f"@font-face{{font-family:Leipzig;src:url({font}) format('woff2')}}" if font else ""


def _packed(systems: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """The pictures by layout; where they are many, each one packed with gzip and written in base64."""
    if sum(len(system) for each in systems.values() for system in each) < _PACK_BYTES:
        return {"packed": False, **systems}
    packed = {name: [_gzipped(system) for system in each] for name, each in systems.items()}
    return {"packed": True, **packed}


def _gzipped(text: str) -> str:
    return base64.b64encode(gzip.compress(text.encode(), mtime=0)).decode()


def _policy(script: str, *, beside: bool) -> str:
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    scripts = f"'sha256-{digest}'" + (" 'self' file:" if beside else "")
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'unsafe-inline'; font-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def json_for_script(value: Any) -> str:
    r"""JSON that may stand inside a `script` element: no ``<``, ``>`` or ``&`` in it (HTML Standard 4.12.1.3, memory).

    >>> print(json_for_script("</script>"))
    "\u003c/script\u003e"
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
