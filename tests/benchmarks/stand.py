"""The stand in Chromium: from a press to the sound, from a score dropped in to its first verdict, memory, many presses.

python -m tests.benchmarks.stand [SCORE ...]

Without scores: the demo, the demo six times over (180 bars, 180 ornaments) and, of the music21 corpus, Haydn op. 74
no. 1 i. *Cold* is the first press of an ornament, as soon as it is opened; *warm* a press a second later; *switch*
another way of playing while one sounds. A press counts from the event to the moment the browser is told to start the
sound. Seconds by the clock of the machine it runs on.
"""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import deepcopy
from pathlib import Path
from typing import Any

import psutil
from lxml import etree
from playwright.sync_api import sync_playwright

from tests.benchmarks._timing import APPUI
from tests.conftest import ARGUMENTS, BROWSERS

DEMO = Path(__file__).parents[2] / "src" / "appui" / "demo" / "ferry.musicxml"
_ORNAMENTS = 10
_TOLD = """window.starts = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (...all) {
  starts.push(performance.now());
  return start.apply(this, all);
};
window.addEventListener('click', () => { window.pressed = performance.now(); }, true);"""


def six_times(path: Path) -> None:
    """The demo's bars six times over, in one file."""
    tree = etree.parse(DEMO)
    for part in tree.getroot().findall("part"):
        bars = list(part)
        for _ in range(5):
            part.extend(deepcopy(bars))
        for number, bar in enumerate(part, 1):
            bar.set("number", str(number))
    tree.write(path)


@contextmanager
def served(folder: Path, scores: Sequence[Path]) -> Iterator[tuple[str, Any]]:
    """A stand with these scores: its address and its process."""
    words = [*APPUI, "stand", *map(str, scores), "--shelf", str(folder), "--no-open"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        try:
            yield found[0], psutil.Process(process.pid)
        finally:
            process.terminate()


def memory_mib(process: Any) -> float:
    """What the server and its helpers hold."""
    return float(sum(each.memory_info().rss for each in (process, *process.children(recursive=True))) / 2**20)


def press_ms(page: Any, number: int) -> float:
    """From a press of a way of playing to its sound."""
    page.evaluate("() => { window.starts = []; }")
    page.locator(f'[data-key="play-{number}"]').click()
    page.wait_for_function("() => window.starts.length > 0", timeout=20_000)
    return float(page.evaluate("starts[0] - pressed"))


def pressed(page: Any, base: str, piece: str) -> dict[str, list[float]]:
    """Presses at ornaments of a piece: cold, warm, and switches, in milliseconds."""
    page.goto(f"{base}/piece/{piece}/read")
    page.wait_for_selector(".spot", state="attached", timeout=120_000)
    places = page.evaluate(
        "record.signs.flatMap((s, i) => s.passage !== null && s.readings.length > 1 && s.kind !== 'fermata' ? [i] : [])"
    )
    found: dict[str, list[float]] = {"cold": [], "warm": [], "switch": []}
    for turn, index in enumerate(places[:: max(len(places) // _ORNAMENTS, 1)][:_ORNAMENTS]):
        page.evaluate(f"openSign({index})")
        if turn % 2:
            page.wait_for_timeout(1000)
        found["warm" if turn % 2 else "cold"].append(press_ms(page, 0))
        page.wait_for_timeout(600)
        found["switch"].append(press_ms(page, 1))
        page.evaluate("stopSound()")
    return found


def many(page: Any) -> str:
    """Thirty presses in a second: what the stand says to the next request, and how long that takes."""
    page.evaluate(
        "async () => { const all = []; for (let i = 0; i < 30; i += 1) { all.push(fetch(`${addressOf({sign: opened,"
        " reading: i % 2, whole: false})}&n=${i}`).catch(() => null)); await new Promise(r => setTimeout(r, 33)); }"
        " await Promise.all(all); }"
    )
    begun = time.perf_counter()
    status = page.evaluate("fetch('/api/shelf').then(r => r.status)")
    spent_s = time.perf_counter() - begun
    return f"thirty presses in a second: the next question is answered ({status}) after {spent_s:.2f} s"


def words(times: Sequence[float]) -> str:
    """Median and worst."""
    return f"{statistics.median(times):4.0f} / {max(times):4.0f} ms" if times else "none"


def main(names: Sequence[str]) -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as text, sync_playwright() as play:
        folder = Path(text)
        scores = [Path(name) for name in names] or _usual(folder)
        browser = play.chromium.launch(executable_path=_chromium(), args=ARGUMENTS.split())
        with served(folder / "shelf", []) as (address, process):
            page = browser.new_page()
            page.add_init_script(_TOLD)
            base = address.partition("/?")[0]
            page.goto(address)
            print("score                     dropped in to first verdict    cold            warm            switch")
            for score in scores:
                drop_s, piece = dropped(page, base, score)
                found = pressed(page, base, piece)
                print(
                    f"{score.name:26}{drop_s:6.2f} s{'':22}" + "   ".join(words(found[key]) for key in found),
                    flush=True,
                )
            print(many(page))
            other = browser.new_page()
            other.goto(address)
            other.wait_for_selector("[data-piece]")
            print("a second browser is let in and sees the shelf")
            for number in range(10 - len(scores)):
                copy = folder / f"copy {number}.musicxml"
                copy.write_bytes(DEMO.read_bytes().replace(b"The Last Ferry", f"Copy {number}".encode()))
                dropped(page, base, copy)
            page.goto(base)
            page.wait_for_selector("[data-piece]")
            print(f"ten pieces on the shelf, all opened: {memory_mib(process):.0f} MiB with the engraver's process")
        browser.close()


def dropped(page: Any, base: str, score: Path) -> tuple[float, str]:
    """Drop a score in: seconds until its first verdict is shown, and its number."""
    page.goto(base)
    page.wait_for_selector("input[type=file]", state="attached")
    page.wait_for_load_state("networkidle")
    begun = time.perf_counter()
    page.set_input_files("input[type=file]", str(score))
    page.wait_for_function("() => /ornament/.test(document.getElementById('shelf-said').textContent)", timeout=120_000)
    spent_s = time.perf_counter() - begun
    said = page.evaluate("fetch('/api/shelf').then(r => r.json())")["pieces"]
    return spent_s, next(each["id"] for each in said if each["file"] == score.name)


def _usual(folder: Path) -> list[Path]:
    from importlib.util import find_spec

    six_times(folder / "ferry six times.musicxml")
    scores = [DEMO, folder / "ferry six times.musicxml"]
    spec = find_spec("music21")
    if spec is not None and spec.origin is not None:
        scores.append(Path(spec.origin).parent / "corpus" / "haydn" / "opus74no1" / "movement1.mxl")
    return scores


def _chromium() -> str:
    import shutil

    return next(path for name in BROWSERS if (path := shutil.which(name)))


if __name__ == "__main__":
    main(sys.argv[1:])
