"""The page in a real browser: a whole sitting by keyboard, read again by `appui progress`; the rule is the same."""

import json
import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from appui.cli.main import cli
from appui.drill.kinds import KINDS
from appui.drill.ladder import Ladder
from appui.drill.page import make_page
from appui.drill.results import results_of
from appui.drill.staircase import Staircase
from appui.drill.store import rows_from_json
from appui.drill.trial import Material
from appui.errors import UsageError

TRIALS = 24
AXE = Path(__file__).parents[1] / "page" / "axe" / "axe.min.js"


@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page of `heavier` with one phrase a level, on a ladder of eight rungs."""
    from dataclasses import replace

    short = replace(KINDS["heavier"], ladder=Ladder(8, 7, "dB", "more weight on the leaning note"))
    output = tmp_path_factory.mktemp("drill") / "heavier.html"
    make_page(short, Material(), output, "1", trials=TRIALS, down=2, a_level=1)
    return output


@dataclass
class Visit:
    """An open page with what it asked of the network and said on the console."""

    page: Any
    requests: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def answer(self, right: bool) -> None:
        """Answer the trial, rightly or not, by its key, and go on."""
        answer = self.page.evaluate("sitting.trial.answer")
        given = max(answer, 0) if right else 1 - max(answer, 0)
        self.page.keyboard.press(str(given + 1))
        self.page.keyboard.press("Enter")

    def saved(self, path: Path) -> Path:
        """The results as the page saves them."""
        with self.page.expect_download() as download:
            self.page.click("#save")
        download.value.save_as(path)
        return path


@pytest.fixture
def visit(browser: Any, page_file: Path) -> Iterator[Callable[..., Visit]]:
    """Open the page in a window of its own."""
    contexts = []

    def opened(width: int = 1000, **more: Any) -> Visit:
        contexts.append(browser.new_context(viewport={"width": width, "height": 740}, **more))
        found = Visit(contexts[-1].new_page())
        found.page.on("request", lambda request: found.requests.append(request.url))
        found.page.on("console", lambda message: found.said.append(message.text))
        found.page.on("pageerror", lambda error: found.said.append(str(error)))
        found.page.goto(page_file.as_uri())
        return found

    yield opened
    for context in contexts:
        context.close()


def test_a_whole_sitting_by_keyboard(visit, page_file, tmp_path) -> None:
    """Begun, answered to the end and saved; `appui progress` takes it in and shows it. No request, nothing said."""
    open_page = visit()
    page = open_page.page
    page.focus("#player")
    page.keyboard.press("Control+A")
    page.keyboard.type("Ada")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_function("() => sounding.length > 0")
    for number in range(TRIALS):
        if page.is_hidden("#trial"):
            break
        open_page.answer(number % 7 != 5)
    assert page.is_visible("#end")
    assert re.match(r"\d+ of \d+ right\.", page.inner_text("#result"))
    export = open_page.saved(tmp_path / "results.json")
    store = str(tmp_path / "drill.sqlite")
    taken = CliRunner().invoke(cli, ["progress", "--import", str(export), "--store", store], catch_exceptions=False)
    shown = CliRunner().invoke(cli, ["progress", "--store", store], catch_exceptions=False)
    rows = rows_from_json(export.read_text(), export)
    assert f"{len(rows)} new answers taken in" in taken.output
    assert re.search(r"Ada +heavier", shown.output)
    assert [page_file.as_uri()] == open_page.requests
    assert [] == open_page.said


def test_the_export_holds_what_was_answered(visit, tmp_path) -> None:
    """Levels follow the staircase of this package, from the answers given."""
    open_page = visit()
    open_page.page.click("#begin")
    for number in range(TRIALS):
        if open_page.page.is_hidden("#trial"):
            break
        open_page.answer(number not in (3, 6, 8, 13, 14, 20))
    rows = rows_from_json(open_page.saved(tmp_path / "results.json").read_text(), tmp_path)
    stairs, levels = Staircase(7, 2), KINDS["heavier"].ladder.levels
    for row in rows:
        assert levels[stairs.rung] == pytest.approx(row.level)
        if not row.catch:
            stairs.answer(right=row.right)
    assert 2 <= sum(row.catch for row in rows) <= 3
    (result,) = results_of(rows)
    assert len(rows) - sum(row.catch for row in rows) == result.trials


def test_the_staircase_is_the_same(visit) -> None:
    """Two hundred rows of answers by chance, both rules: the rungs and reversals agree."""
    page = visit().page
    chance = random.Random(3)  # noqa: S311 - answers
    for down in (2, 3):
        rows = [[chance.random() < 0.75 for _ in range(60)] for _ in range(100)]
        theirs = page.evaluate(
            "([rows, down]) => rows.map(row => { const s = newStairs(15, down);"
            "const rungs = row.map(right => { answerStairs(s, right); return s.rung; }); return [rungs, s.turns]; })",
            [rows, down],
        )
        for row, (rungs, turns) in zip(rows, theirs, strict=True):
            stairs, ours = Staircase(15, down), []
            for right in row:
                stairs.answer(right=right)
                ours.append(stairs.rung)
            assert ours == rungs
            assert stairs.turns == turns


def test_answers_are_balanced(visit) -> None:
    """As often the first as the second, and equal pairs once in ten, never at the very start."""
    answers = visit().page.evaluate("answersOf(600)")
    assert abs(answers.count(0) - answers.count(1)) <= 6
    assert 60 == answers.count(-1)
    assert -1 != answers[0]


def test_the_clips_are_the_two_weights(visit) -> None:
    """Both are heard in the order of the answer, an equal pair twice the lighter."""
    item = {"clips": [4, 5]}
    page = visit().page
    assert [[4, 5], [5, 4], [5, 5]] == page.evaluate("item => [0, 1, -1].map(a => clipsOf(item, a))", item)


def test_results_stay_after_the_page_is_closed(visit) -> None:
    """Stopped in the middle, opened again: what was answered is there."""
    open_page = visit()
    open_page.page.click("#begin")
    for _ in range(4):
        open_page.answer(right=True)
    # the browser writes behind: a moment, as long as a hand needs to close a page
    open_page.page.wait_for_timeout(500)
    open_page.page.reload()
    assert open_page.page.inner_text("#count").startswith("4 answers kept")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_a_telephone(visit, scheme) -> None:
    """No sideways scrolling, and everything to touch is 44 points high."""
    page = visit(320, color_scheme=scheme, has_touch=True).page
    page.tap("#begin")
    page.tap("#answers button >> nth=0")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    heights = page.evaluate(
        "[...document.querySelectorAll('button')].filter(b => b.offsetParent).map(b => b.offsetHeight)"
    )
    assert min(heights) >= 44


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_fault(visit, scheme) -> None:
    """axe-core 4.14's rules, WCAG 2.1 A and AA among them, on all four screens."""
    page = visit(color_scheme=scheme, bypass_csp=True).page
    page.evaluate(AXE.read_text(encoding="utf-8"))
    for step in (
        lambda: None,
        lambda: page.click("#begin"),
        lambda: page.keyboard.press("1"),
        lambda: page.keyboard.press("q"),
    ):
        step()
        assert [] == page.evaluate("axe.run().then(result => result.violations.map(each => each.id))")


def test_the_page_forbids_every_request(page_file) -> None:
    """Its policy names its own program and nothing else; text of a score cannot end the data."""
    text = page_file.read_text()
    assert "default-src 'none'; script-src 'sha256-" in text
    assert not re.search(r"""(src|href)=["']?(https?:)?//""", text)
    record = re.search(r'id="record">(.*?)</script>', text, re.DOTALL)
    assert record is not None
    assert "<" not in record[1]
    assert 8 == len(json.loads(record[1])["levels"])


def test_a_page_is_an_html_file(tmp_path) -> None:
    """Another suffix is refused before anything is rendered."""
    with pytest.raises(UsageError, match=r"a page ends in \.html"):
        make_page(KINDS["heavier"], Material(), tmp_path / "page.pdf", "1")
