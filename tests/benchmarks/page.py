"""How long a page takes to make and how large it is: the demo's movement, and a long one of 162 bars made of it.

python -m tests.benchmarks.page
"""

import json
import re
import tempfile
from pathlib import Path

from tests.benchmarks._timing import APPUI, run
from tests.benchmarks.stand import six_times

DEMO = Path(__file__).parents[2] / "src" / "appui" / "demo" / "ferry.musicxml"


def main() -> None:
    """Print seconds by the clock and of processor time, megabytes, and how much is on the page."""
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        measure(DEMO, folder / "page.html")
        six_times(folder / "long.musicxml")
        measure(folder / "long.musicxml", folder / "long.html", "--bars", "1-162")


def measure(score: Path, page: Path, *words: str) -> None:
    """Make one page and print what it took."""
    spent = run([*APPUI, "page", str(score), str(page), *words])
    text = page.read_text(encoding="utf-8")
    found = re.search(r'id="record">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    record = json.loads(found.group(1))
    readings = sum(len(sign["readings"]) for sign in record["signs"])
    sound = sum(len(part.split("</script>")[0]) for part in text.split('id="sound-')[1:])
    print(f"{len(record['signs'])} signs, {readings} readings, {len(record['tempos'])} tempos")
    print(
        f"{spent.clock_s:.1f} s by the clock, {spent.processor_s:.1f} s of processor time, {spent.memory_mib:.0f} MiB"
    )
    print(f"{len(text.encode()) / 1e6:.1f} MB, {sound / 1e6:.1f} MB of it sound")


if __name__ == "__main__":
    main()
