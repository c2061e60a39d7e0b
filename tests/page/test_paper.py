"""The page on paper, as the browser prints it: nothing is left out, nothing left blank, however long the score."""

import gzip
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdf
import pytest

Visit = Any
Open = Callable[..., Visit]


@pytest.fixture(scope="module", name="seen")
def _seen(crowded: Path, visits: Open) -> Visit:
    """One window for all tests of this file."""
    return visits(crowded)


@pytest.fixture(scope="module", name="pages")
def _pages(seen: Visit) -> list[pypdf.PageObject]:
    """The pages as they come out, a sign open and the page moved down; nothing is prepared by the test."""
    seen.page.evaluate("openSign(20)")
    return list(pypdf.PdfReader(io.BytesIO(seen.page.pdf(format="A4"))).pages)


def test_score_verdicts_and_readings_are_printed_on_few_pages(pages: list[pypdf.PageObject]) -> None:
    """24 bars with 25 ornaments in their ways of playing: six pages at most."""
    assert len(pages) <= 6
    text = " ".join(page.extract_text() for page in pages)
    assert "The ornaments" in text
    assert "(as the rule has it)" in text
    assert 20 < text.count("Bar ")
    assert "Close" not in text
    assert "Listen blind" not in text


def test_no_page_is_blank(pages: list[pypdf.PageObject]) -> None:
    """Packed pictures are drawn before the browser prints them."""
    for page in pages:
        contents = page.get_contents()
        assert contents is not None
        assert 20_000 < len(contents.get_data())


def test_the_first_page_is_filled(pages: list[pypdf.PageObject]) -> None:
    """What is printed on it reaches into its last quarter."""
    words: list[tuple[str, float]] = []

    def visitor(text: str, matrix: Any, at: Any, *_: Any) -> None:
        if text.strip():
            words.append((text, matrix[1] * at[4] + matrix[3] * at[5] + matrix[5]))

    pages[0].extract_text(visitor_text=visitor)
    height = float(pages[0].mediabox.height)
    assert words
    assert min(y for _, y in words) < 0.25 * height


def test_the_screen_is_as_it_was_after_printing(seen: Visit, pages: list[pypdf.PageObject]) -> None:
    """The layout of the screen is back, the list for paper is gone, the open sign is open."""
    del pages
    assert ["wide", 20, 0] == seen.page.evaluate(
        "[layout, opened, document.querySelectorAll('#written article').length]"
    )


@pytest.mark.parametrize("level", [0, 1, 9])
@pytest.mark.parametrize(
    "text", ["", "x", "<svg>♭ – 𝄞</svg>" * 3000, "".join(chr(33 + i * i % 90) for i in range(70_000))]
)
def test_what_is_packed_is_unpacked(seen: Visit, text: str, level: int) -> None:
    """Whatever the packing: stored, with fixed and with own codes."""
    packed = list(gzip.compress(text.encode(), level, mtime=0))
    assert text == seen.page.evaluate("bytes => unzipped(new Uint8Array(bytes))", packed)
