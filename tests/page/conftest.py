"""A page of the demo's first bars, a score full of markup, and a browser to open them in."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import appui.page.build
from appui.compare.survey import select
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.page.build import make_page
from appui.score.bars import bar_range

DEMO = Path(__file__).parents[2] / "src" / "appui" / "demo" / "ferry.musicxml"
#  text that would be markup, in every place of a score where text is shown
HOSTILE = "</script><script>window.ran=1</script><img src=x onerror='window.ran=1'> & co"


def write_page(score: Path, output: Path, bars: str | None = None, **wishes: Any) -> Path:
    """A page of some bars at two tempos; other words go to `make_page`."""
    interpretation = interpret(score, Wishes(solo=wishes.pop("solo", None)))
    signs = select(interpretation, all_parts=False, bars=bars)
    make_page(
        interpretation,
        score,
        output,
        signs,
        bar_range(interpretation.score, bars),
        wishes.pop("tempos", ("60%", "100%")),
        **wishes,
    )
    return output


def escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("'", "&apos;")


def hostile_score(text: str = HOSTILE) -> str:
    """Two bars in which the title, the part's name, a direction, a lyric and the composer's name are this text."""
    text = escaped(text)

    def note(step: str, kind: str = "", more: str = "") -> str:
        length = "<grace/>" if kind == "small" else ""
        lasts = "" if kind == "small" else "<duration>2</duration>"
        value = "eighth" if kind == "small" else "half"
        pitch = f"<pitch><step>{step}</step><octave>5</octave></pitch>"
        return f"<note>{length}{pitch}{lasts}<voice>1</voice><type>{value}</type>{more}</note>"

    lyric = f"<lyric><text>{text}</text></lyric>"
    words = f"<direction placement='above'><direction-type><words>{text}</words></direction-type></direction>"
    head = (
        "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
        "<clef><sign>G</sign><line>2</line></clef></attributes>"
    )
    bars = (
        f"<measure number='1'>{head}{words}{note('C', more=lyric)}{note('D', 'small')}{note('C')}</measure>"
        f"<measure number='2'>{note('F', 'small')}{note('E')}{note('C')}</measure>"
    )
    return (
        "<?xml version='1.0'?><score-partwise version='4.0'>"
        f"<work><work-title>{text}</work-title></work>"
        f"<identification><creator type='composer'>{text}</creator></identification>"
        f"<part-list><score-part id='P1'><part-name>{text}</part-name></score-part></part-list>"
        f"<part id='P1'>{bars}</part></score-partwise>"
    )


def two_movements() -> str:
    """Two movements of four bars in one file, counted from 1 anew, at 60 and 120, a small note in their bars 2."""

    def bar(number: int, first: str) -> str:
        def note(step: str) -> str:
            pitch = f"<pitch><step>{step}</step><octave>5</octave></pitch>"
            return f"<note>{pitch}<duration>2</duration><voice>1</voice><type>half</type></note>"

        small = (
            "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><voice>1</voice><type>eighth</type></note>"
        )
        return f"<measure number='{number}'>{first}{small if number == 2 else ''}{note('C')}{note('E')}</measure>"

    def movement(heading: str, minute: int) -> str:
        first = (
            "<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time>"
            f"<clef><sign>G</sign><line>2</line></clef></attributes><direction placement='above'><direction-type>"
            f"<words>{heading}</words></direction-type><sound tempo='{minute}'/></direction>"
        )
        bars = "".join(bar(number, first if number == 1 else "") for number in (1, 2, 3, 4))
        return bars.removesuffix("</measure>") + "<barline><bar-style>light-heavy</bar-style></barline></measure>"

    return (
        "<?xml version='1.0'?><score-partwise version='4.0'><identification>"
        "<creator type='transcriber'>https://example.org/me</creator><creator type='arranger'>A. Copyist</creator>"
        "<creator type='composer'>An Author</creator></identification>"
        "<part-list><score-part id='P1'><part-name>Flute</part-name></score-part></part-list>"
        f"<part id='P1'>{movement('Adagio', 60)}{movement('Allegro', 120)}</part></score-partwise>"
    )


@pytest.fixture(scope="session")
def demo() -> Path:
    """The score of the demo."""
    return DEMO


@pytest.fixture(scope="session")
def interpretation() -> Interpretation:
    """The demo, prepared."""
    return interpret(DEMO, Wishes(solo="oboe"))


@pytest.fixture(scope="session")
def made() -> Callable[..., Path]:
    """`write_page`, for pages of a test's own."""
    return write_page


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """A score file in which every text is `hostile_text`."""
    path = tmp_path / "hostile.musicxml"
    path.write_text(hostile_score(), encoding="utf-8")
    return path


@pytest.fixture
def hostile_text() -> str:
    """Text that would be markup."""
    return HOSTILE


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of bars 1 to 6 of the demo."""
    return write_page(DEMO, tmp_path_factory.mktemp("page") / "ferry.html", "1-6")


@pytest.fixture(scope="session")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of bars 5 to 28 of the demo, where words stand close, packed as the page of a long score is."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(appui.page.build, "_PACK_BYTES", 0)
        return write_page(DEMO, tmp_path_factory.mktemp("crowded") / "ferry.html", "5-28", tempos=("100%",))


@dataclass
class Visit:
    """An open page with what it asked of the network and said on the console."""

    page: Any
    requests: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def sign(self, number: int) -> Any:
        """The spot of a sign in the score."""
        return self.page.locator(f'.spot[data-sign="{number}"]')

    def press_word(self, number: int) -> None:
        """Press the word over a sign; the spot over it takes the press."""
        self.page.locator(f"#word-{number} text").click(force=True)

    def play(self, number: int) -> Any:
        """The play control of a reading of the open sign."""
        return self.page.locator(f'button.play[data-reading="{number}"]')

    def sounds(self) -> Any:
        """What sounds: place, reading, seconds of music heard, speed and loop; `None` while nothing does."""
        return self.page.evaluate(
            "() => { const v = player.voice; return v && {place: record.signs[v.what.sign].place,"
            "reading: record.signs[v.what.sign].readings[v.what.reading].words,"
            "time: placeNow() - spanOf(v.what).from_s, speed: v.speed, loop: v.loop} }"
        )

    def until(self, script: str) -> None:
        """Wait until something is so on the page."""
        self.page.wait_for_function(script, timeout=8000)


def _visits(browser: Any) -> Iterator[Callable[..., Visit]]:
    contexts = []

    def opened(file: Path, width: int = 1280, height: int = 900, **context: Any) -> Visit:
        contexts.append(browser.new_context(viewport={"width": width, "height": height}, **context))
        page = contexts[-1].new_page()
        seen = Visit(page)
        page.on("request", lambda request: seen.requests.append(request.url))
        page.on("console", lambda message: seen.said.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: seen.said.append(f"error: {error}"))
        page.goto(file.as_uri())
        page.wait_for_selector(".system.drawn")
        return seen

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def visit(browser: Any) -> Iterator[Callable[..., Visit]]:
    """Open a page file in a window of its own: width, height, and what a context takes."""
    yield from _visits(browser)


@pytest.fixture(scope="module")
def visits(browser: Any) -> Iterator[Callable[..., Visit]]:
    """The same, for pages that several tests look at."""
    yield from _visits(browser)
