"""A score with its solo written out, as MusicXML, SVG or PDF.

SVG and PDF are engraved by verovio from the same MusicXML. SVG is one page a file: `out.svg` for the first, `out-2.svg`
and so on; PDF has all pages.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from appui.errors import InputError, ScoreError
from appui.interpret.interpretation import Interpretation
from appui.interpret.printed import printed_tree
from appui.musicxml.write.head import tree_bytes
from appui.notate.apart import engrave_apart
from appui.notate.glyphs import with_shapes
from appui.notate.line import Line
from appui.notate.point import decimal_point
from appui.notate.tree import label, with_line

__all__ = ["OPTIONS", "SUFFIXES", "engraved", "notated", "pages_of", "pdf_of"]

SUFFIXES = (".musicxml", ".xml", ".svg", ".pdf")
OPTIONS = {
    "pageWidth": 2100,
    "pageHeight": 2970,
    "scale": 40,
    "header": "auto",
    "footer": "none",
    "breaks": "auto",
    "svgViewBox": True,
    "unit": 9,
    "smuflTextFont": "none",
    "xmlIdSeed": 1,
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
    root = printed_tree(path, interpretation.solo, interpretation.wishes, keep=True)
    if labels:
        label(root, interpretation)
    line = with_line(root, interpretation, keep, bars)
    return tree_bytes(root), line


def engraved(musicxml: bytes, name: str) -> Any:
    """A verovio toolkit with the score loaded; raises `ScoreError` where verovio cannot."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(OPTIONS)
    if not toolkit.loadData(musicxml.decode()):
        raise ScoreError(name, "cannot be engraved", "write it as .musicxml instead")
    return toolkit


@decimal_point()
def pages_of(musicxml: bytes, name: str) -> list[str]:
    """The pages as SVG; raises `ScoreError` where the engraver cannot draw them."""

    def work() -> list[str]:
        toolkit = engraved(musicxml, name)
        return [with_shapes(toolkit.renderToSVG(page)) for page in range(1, toolkit.getPageCount() + 1)]

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
        drawn = cairosvg.svg2pdf(bytestring=page.encode())
        writer.append(PdfReader(BytesIO(drawn)))
    out = BytesIO()
    writer.write(out)
    return out.getvalue()
