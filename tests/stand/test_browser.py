"""The stand in a real browser, as a player meets it: from a score dropped in to a pupil's answers taken back."""

import json
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import uvicorn

from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.perform import only
from appui.perform.play import play
from appui.sound.save import save
from appui.stand.app import application
from appui.stand.guard import Door
from appui.stand.holding import Stand
from appui.stand.serve import addresses
from appui.stand.shelf import Shelf
from tests.conftest import ARGUMENTS
from tests.stand.conftest import DEMO

AXE = Path(__file__).parents[1] / "page" / "axe" / "axe.min.js"
_WAIT_MS = 20_000


class Visitor:
    """A window on a stand, with what its console said."""

    def __init__(self, page: Any, base: str) -> None:
        self.page, self.base = page, base
        self.said: list[str] = []
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.said.append(str(error)))

    def _hear(self, message: Any) -> None:
        if message.type == "error":
            self.said.append(message.text)

    def room(self, piece: str, name: str) -> None:
        """Go into a room of a piece."""
        self.page.goto(f"{self.base}/piece/{piece}/{name}")

    def until(self, script: str) -> None:
        """Wait until something is so on the page."""
        self.page.wait_for_function(script, timeout=_WAIT_MS)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Stand, Door]]:
    """A stand with an empty shelf, on a port of its own."""
    bound = socket.socket()
    bound.bind(("127.0.0.1", 0))
    port = bound.getsockname()[1]
    door = Door(port, frozenset({f"127.0.0.1:{port}"}))
    stand = Stand(Shelf(tmp_path_factory.mktemp("shelf")))
    server = uvicorn.Server(uvicorn.Config(application(stand, door), log_config=None, ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [bound]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield stand, door
    server.should_exit = True
    thread.join(10)
    bound.close()


@pytest.fixture(scope="module")
def visitor(browser: Any, served: tuple[Stand, Door]) -> Iterator[Visitor]:
    """A window that has opened the printed address."""
    _, door = served
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    page = context.new_page()
    page.set_default_timeout(_WAIT_MS)
    page.goto(addresses(door).own)
    yield Visitor(page, f"http://127.0.0.1:{door.port}")
    context.close()


@pytest.fixture(scope="module")
def piece(visitor: Visitor) -> str:
    """The demo, dropped on the shelf; its number."""
    visitor.page.goto(visitor.base)
    visitor.page.set_input_files("input[type=file]", str(DEMO))
    row = visitor.page.wait_for_selector("[data-piece]")
    return str(row.get_attribute("data-piece"))


def test_a_score_dropped_in_says_its_first_verdict(visitor: Visitor, piece: str) -> None:
    """And what is undecided."""
    assert piece
    visitor.page.goto(visitor.base)
    visitor.page.wait_for_selector("[data-piece]")
    assert "30 ornaments; 0 decided" in visitor.page.inner_text("[data-piece]")


def test_a_file_that_is_no_score_is_refused_with_a_way_on(visitor: Visitor, piece: str, tmp_path: Path) -> None:
    """In words, on the shelf, and the shelf stays as it was."""
    assert piece
    visitor.page.goto(visitor.base)
    scan = tmp_path / "scan.musicxml"
    scan.write_bytes(b"%PDF-1.7 a scan")
    visitor.page.set_input_files("input[type=file]", str(scan))
    visitor.until("() => /cannot be taken/.test(document.getElementById('shelf-said').textContent)")
    assert "scan.musicxml" in visitor.page.inner_text("#shelf-said")
    assert 1 == visitor.page.locator("[data-piece]").count()
    visitor.said.clear()


def _open(visitor: Visitor, piece: str, sign: int) -> None:
    visitor.room(piece, "read")
    visitor.page.wait_for_selector(f'.spot[data-sign="{sign}"]', state="attached")
    visitor.page.locator(f'.spot[data-sign="{sign}"]').press("Enter")
    visitor.page.wait_for_selector("button.play")


def test_three_ways_of_playing_sound_one_after_another(visitor: Visitor, piece: str) -> None:
    """By keyboard; another takes over where the first one is."""
    _open(visitor, piece, 2)
    for number in range(3):
        visitor.page.locator(f'[data-key="play-{number}"]').press("Enter")
        visitor.until(f"() => player.what && player.what.reading === {number} && player.voice && placeNow() > 0.2")
    visitor.until("() => placeNow() > 0.5")
    visitor.page.locator('[data-key="play-2"]').press("Enter")
    visitor.until("() => player.what === null")


def test_a_decision_is_in_the_plan_at_once_and_survives(
    visitor: Visitor, piece: str, served: tuple[Stand, Door]
) -> None:
    """The file on the disk says it; the page opened again shows it; the words say what the rule would have."""
    _open(visitor, piece, 2)
    visitor.page.get_by_role("radio", name="before").first.check()
    plan = served[0].shelf.entry(piece).plan
    visitor.until("() => /Kept in ferry-plan.toml/.test(document.getElementById('plan-said').textContent)")
    assert '\n"oboe.4.1" = "before"' in plan.read_text(encoding="utf-8")
    _open(visitor, piece, 2)
    assert "The rule would have “leaning 1/2”" in visitor.page.inner_text("#panel")
    assert visitor.page.get_by_role("radio", name="before").first.is_checked()


def test_an_edit_by_hand_shows_by_itself(visitor: Visitor, piece: str, served: tuple[Stand, Door]) -> None:
    """The plan on the disk is the truth: the page looks at it every 0.7 s."""
    _open(visitor, piece, 2)
    plan = served[0].shelf.entry(piece).plan
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace('"oboe.4.1" = "before"', '"oboe.4.1" = "leaning 1/3"'), encoding="utf-8")
    visitor.until("() => /leaning 1\\/3/.test(document.querySelector('.reading:has(:checked)')?.textContent || '')")
    plan.write_text(text, encoding="utf-8")


def test_to_the_rule_again(visitor: Visitor, piece: str, served: tuple[Stand, Door]) -> None:
    """One press, and the line stands behind # again."""
    served[0].desk.decide(served[0].shelf.entry(piece), "oboe.4.1", "before")
    _open(visitor, piece, 2)
    visitor.page.get_by_role("button", name="As the rule has it").click()
    visitor.until("() => !record.signs[2].by.startsWith('plan')")
    assert '#"oboe.4.1"' in served[0].shelf.entry(piece).plan.read_text(encoding="utf-8")


def test_an_ornament_is_practised_in_a_loop_without_a_gap(visitor: Visitor, piece: str) -> None:
    """The next round begins where the bars of the last end, to the sample; a bar is counted in; the keys work."""
    visitor.room(piece, "practise")
    visitor.page.wait_for_selector("select")
    visitor.until("() => ornaments.length > 0")
    visitor.page.get_by_label("One ornament").select_option("oboe.4.1")
    visitor.page.evaluate(
        "() => { Object.assign(wanted, {from: 140, to: 140, first: 3, last: 3}); changedPractice();"
        "document.activeElement.blur(); }"
    )
    visitor.page.evaluate(
        "() => { window.put = []; const old = putRound;"
        "putRound = (...all) => { put.push(all[1] + all[0].line.lead_s); return old(...all); }; }"
    )
    visitor.page.keyboard.press("Space")
    visitor.until("() => window.put.length >= 3")
    gaps = visitor.page.evaluate(
        "() => { const body = engine.next[0].line.body_s; return [put[1] - put[0] - body, put[2] - put[1] - body]; }"
    )
    assert all(abs(gap) < 0.0001 for gap in gaps)
    assert visitor.page.evaluate("engine.next[0].line.count.length") == 2
    visitor.page.keyboard.press("Space")
    visitor.until("() => !soundingNow()")


def test_the_part_is_made_as_pdf(visitor: Visitor, piece: str) -> None:
    """By a press, with the decisions in it; it is shown while it is made, and handed out."""
    visitor.room(piece, "practise")
    visitor.page.get_by_role("button", name="The part, as PDF").click()
    link = visitor.page.wait_for_selector("#work a")
    with visitor.page.expect_download() as download:
        link.click()
    assert download.value.path().read_bytes().startswith(b"%PDF")


#  of the first drawn system: how high a staff is, and how high the small letters of the words are, in points of CSS
_SIZES = """() => {
  const svg = document.querySelector('.system svg');
  const units = Number((svg.querySelector('svg') || svg).getAttribute('viewBox').split(' ')[2]);
  const scale = svg.getBoundingClientRect().width / units;
  const text = document.querySelector('.system .word text');
  const pen = document.createElement('canvas').getContext('2d');
  pen.font = `italic ${parseFloat(text.getAttribute('font-size')) * scale}px ${getComputedStyle(text).fontFamily}`;
  return [720 * scale, pen.measureText('x').actualBoundingBoxAscent];
}"""


def test_the_music_stand_has_staves_of_seven_millimetres(browser: Any, served: tuple[Stand, Door], piece: str) -> None:
    """On a tablet of 9.7 inches (132 points an inch), both ways: staff at least 7 mm, small letters at least 2.5 mm."""
    _, door = served
    for width, height in ((768, 1024), (1024, 768)):
        context = browser.new_context(viewport={"width": width, "height": height})
        page = context.new_page()
        page.goto(addresses(door).own)
        page.goto(f"http://127.0.0.1:{door.port}/piece/{piece}/stand")
        page.wait_for_selector(".system", timeout=_WAIT_MS)
        staff, letters = (points / 132 * 25.4 for points in page.evaluate(_SIZES))
        assert staff >= 7
        assert letters >= 2.5
        page.keyboard.press("PageDown")
        page.wait_for_function("() => music.page === 1 || music.pages.length === 1")
        context.close()


def test_an_embellishment_is_edited_in_place_with_its_fault_shown(visitor: Visitor, piece: str) -> None:
    """A note that is none is named where it is written; the line that is right again is drawn."""
    visitor.room(piece, "embellish")
    visitor.page.wait_for_selector(".card button")
    visitor.page.locator(".card button").first.click()
    visitor.page.wait_for_selector(".drawn-line svg")
    text = visitor.page.locator(".proposal textarea").first
    visitor.page.locator(".proposal summary").first.click()
    good = text.input_value()
    text.fill(good.replace('notes = "', 'notes = "H9:1/8 '))
    text.blur()
    visitor.page.wait_for_selector(".proposal .fault:not([hidden])")
    assert "H9" in visitor.page.locator(".proposal .fault").first.inner_text()
    text.fill(good)
    text.blur()
    visitor.page.wait_for_selector(".proposal .fault", state="hidden")
    visitor.said.clear()


def test_the_ear_is_trained_with_keys(
    visitor: Visitor, piece: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """On the piece's own places; why is said."""
    monkeypatch.setattr("appui.drill.store.default_path", lambda: tmp_path / "drill.sqlite")
    visitor.room(piece, "ear")
    visitor.page.get_by_role("button", name="Begin: Was the small note").click()
    visitor.until("() => trial && heardOnce")
    visitor.page.keyboard.press("1")
    visitor.until("() => /^(Right|No)[.] /.test(document.querySelector('p.told')?.textContent || '')")


def test_a_pupils_page_is_sent_and_its_answers_come_back(
    visitor: Visitor, piece: str, browser: Any, tmp_path: Path
) -> None:
    """The answers are hidden on it; what the pupil decides lies beside one's own, disagreements first."""
    visitor.room(piece, "lesson")
    visitor.page.wait_for_selector("#ornaments textarea")
    visitor.page.get_by_label("your remark at oboe.4.1").fill("listen to the cello")
    visitor.page.get_by_label("your remark at oboe.4.1").blur()
    for place in ("oboe.2.1", "oboe.4.1"):
        visitor.page.get_by_label(f"{place} is to be decided").check()
    visitor.page.locator("#make-page").click()
    link = visitor.page.wait_for_selector('#work a[download$="page.html"]', timeout=90_000)
    with visitor.page.expect_download() as download:
        link.click()
    sent = tmp_path / "page.html"
    download.value.save_as(sent)
    answers = _as_a_pupil(browser, sent, tmp_path)
    assert {"oboe.2.1", "oboe.4.1"} == set(json.loads(answers.read_text(encoding="utf-8"))["choices"])
    visitor.page.set_input_files("#answers-file", str(answers))
    visitor.page.wait_for_selector("#answers tbody tr")
    rows = visitor.page.locator("#answers tbody tr").all_inner_texts()
    assert "otherwise" in rows[0]
    assert "alike" in rows[1]
    assert "Nell" in visitor.page.inner_text("#answers")


def _as_a_pupil(browser: Any, sent: Path, folder: Path) -> Path:
    """Open the page that was sent, decide, and save the answers."""
    context = browser.new_context(accept_downloads=True)
    page = context.new_page()
    page.goto(sent.as_uri())
    page.wait_for_selector("#letter button")
    assert "to be decided by you" in str(page.locator('.spot[data-sign="2"]').get_attribute("aria-label"))
    page.locator('.spot[data-sign="2"]').press("Enter")
    assert "listen to the cello" in page.inner_text("#panel")
    assert "dissonan" not in page.inner_text("#panel")
    page.get_by_role("radio", name="short").first.check()
    assert "dissonan" in page.inner_text("#panel")
    page.locator('.spot[data-sign="0"]').press("Enter")
    page.get_by_role("radio", name="before").first.check()
    page.get_by_label("Your name").fill("Nell")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save my answers").click()
    path = folder / "answers.json"
    download.value.save_as(path)
    context.close()
    return path


@pytest.mark.parametrize("name", ["", "read", "stand", "practise", "embellish", "ear", "lesson"])
def test_every_room_passes_axe_and_says_nothing_on_the_console(visitor: Visitor, piece: str, name: str) -> None:
    """No fault of accessibility that axe-core finds, in light and in dark, and no error of a script."""
    visitor.said.clear()
    visitor.page.goto(f"{visitor.base}/piece/{piece}/{name}" if name else visitor.base)
    visitor.page.wait_for_selector(
        {"": "[data-piece]", "read": ".spot", "stand": ".system", "embellish": ".card"}.get(name, "main h1, main h2"),
        state="attached",
    )
    for scheme in ("light", "dark"):
        visitor.page.emulate_media(color_scheme=scheme)
        # the policy of the page lets no script in; the browser's own hand may
        visitor.page.evaluate(AXE.read_text(encoding="utf-8") + "; 0")
        faults = visitor.page.evaluate(
            "() => axe.run().then(r => r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.target.join(' '))))"
        )
        assert [] == faults
    visitor.page.emulate_media(color_scheme="light")
    assert [] == visitor.said


@pytest.mark.parametrize(("width", "height"), [(360, 740), (740, 360), (768, 1024), (1024, 768)])
def test_no_room_is_wider_than_its_screen(visitor: Visitor, piece: str, width: int, height: int) -> None:
    """On a telephone and a tablet, both ways."""
    visitor.page.set_viewport_size({"width": width, "height": height})
    for name in ("", "read", "practise", "embellish", "ear", "lesson"):
        visitor.page.goto(f"{visitor.base}/piece/{piece}/{name}" if name else visitor.base)
        visitor.page.wait_for_selector("[data-piece], main h1, #score", state="attached")
        visitor.page.wait_for_timeout(250)
        assert visitor.page.evaluate("document.documentElement.scrollWidth") <= width, name
    visitor.page.set_viewport_size({"width": 1280, "height": 900})


def test_a_take_recorded_in_the_browser_is_told(
    browser: Any, served: tuple[Stand, Door], piece: str, tmp_path: Path
) -> None:
    """From the microphone to the table, while the others play: bars 3 to 5, of which one is decided before the beat."""
    stand, door = served
    stand.desk.decide(stand.shelf.entry(piece), "oboe.4.1", "before")
    player = interpret(DEMO, Wishes(solo="oboe"))
    save(only(play(player, player.order("3-5")), solo=True), [tmp_path / "solo.wav"], None)
    solo, rate = soundfile.read(tmp_path / "solo.wav", always_2d=True)
    silence = np.zeros((2 * rate, solo.shape[1]))
    soundfile.write(tmp_path / "take.wav", np.concatenate([silence, solo, silence]), rate, subtype="PCM_16")
    own = browser.browser_type.launch(
        executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
        args=[
            *ARGUMENTS.split(),
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            "--autoplay-policy=no-user-gesture-required",
            f"--use-file-for-fake-audio-capture={tmp_path / 'take.wav'}",
        ],
    )
    page = own.new_page()
    page.goto(addresses(door).own)
    page.goto(f"http://127.0.0.1:{door.port}/piece/{piece}/practise")
    page.wait_for_function("() => ornaments.length > 0", timeout=_WAIT_MS)
    page.evaluate(
        "() => { Object.assign(wanted, {place: '', first: 2, last: 4, from: 100, to: 100, steps: 1});"
        "changedPractice(); }"
    )
    page.locator('[data-key="record"]').click()
    page.wait_for_function(
        "() => take.buffer && (take.report || !/^(Recording|Listening)/.test(take.said))", timeout=60_000
    )
    assert page.evaluate("take.buffer.duration") > 5
    # what the machine's microphone brings is as steady as the machine is idle; how well it is heard is tested elsewhere
    if page.evaluate("take.report !== null"):
        assert "before the beat" in page.locator("#takes tbody tr", has_text="oboe.4.1").inner_text().split("\t")[2]
    else:
        assert "these bars" in page.inner_text("#takes")
    own.close()
