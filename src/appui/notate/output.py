"""A score with its solo written out, as MusicXML, SVG or PDF.

SVG and PDF are engraved by verovio from the same MusicXML. SVG is one page a file: `out.svg` for the first, `out-2.svg`
and so on; PDF has all pages.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from appui.errors import InputError, ScoreError
from appui.interpret.interpretation import Interpretation
from appui.musicxml.write.head import tree_bytes
from appui.musicxml.write.partwise import partwise
from appui.notate.apart import engrave_apart
from appui.notate.line import Line
from appui.notate.point import decimal_point
from appui.notate.tree import label, with_line
from appui.notations.read import load

__all__ = ["SUFFIXES", "engraved", "notated", "pages_of", "pdf_of"]

SUFFIXES = (".musicxml", ".xml", ".svg", ".pdf")
_OPTIONS = {
    "pageWidth": 2100,
    "pageHeight": 2970,
    "scale": 40,
    "header": "auto",
    "footer": "none",
    "breaks": "auto",
    "svgViewBox": True,
    "unit": 9,
}


def notated(
    path: Path,
    interpretation: Interpretation,
    keep: str = "above",
    *,
    labels: bool = False,
    bars: tuple[int, int] | None = None,
) -> tuple[bytes, Line]:
    """The score of a file with the interpretation's solo written out, as MusicXML, and what was written.

    `keep` is one of `tree.KEEPS`; with `labels` the chord stands as text under each sign; `bars` are first and last
    index. Raises `ScoreError` as reading the file does.
    """
    source = load(path, keep=True)
    root = partwise(source.root)
    if labels:
        label(root, interpretation)
    line = with_line(root, interpretation, keep, bars)
    return tree_bytes(root), line


def engraved(musicxml: bytes, name: str) -> Any:
    """A verovio toolkit with the score loaded; raises `ScoreError` where verovio cannot."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(_OPTIONS)
    if not toolkit.loadData(musicxml.decode()):
        raise ScoreError(name, "cannot be engraved", "write it as .musicxml instead")
    return toolkit


@decimal_point()
def pages_of(musicxml: bytes, name: str) -> list[str]:
    """The pages as SVG; raises `ScoreError` where the engraver cannot draw them."""

    def work() -> list[str]:
        toolkit = engraved(musicxml, name)
        return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]

    return engrave_apart(work, name)


def pdf_of(pages: list[str]) -> bytes:
    """The pages as one PDF; raises `InputError` where cairo's library is missing."""
    from io import BytesIO

    from pypdf import PdfReader, PdfWriter

    try:
        import cairosvg
    except OSError:
        raise InputError(
            "PDF", "cairo's library is not installed", "install libcairo2 (Debian) or cairo (Homebrew), or write .svg"
        ) from None

    writer = PdfWriter()
    for page in pages:
        drawn = cairosvg.svg2pdf(bytestring=_drawable(page).encode())
        writer.append(PdfReader(BytesIO(drawn)))
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


#  the note values of a metronome mark in a music font (SMuFL 1.4, read), as Unicode text fonts have them
_TEXT_NOTES = {0xECA3: "𝅗𝅥", 0xECA5: "♩", 0xECA7: "♪", 0xECB7: ".", 0xE1D3: "𝅗𝅥", 0xE1D5: "♩", 0xE1D7: "♪", 0xE1E7: "."}


def _drawable(page: str) -> str:
    """The page for a drawing library that knows no fonts inside an SVG."""
    return page.translate(_TEXT_NOTES)
