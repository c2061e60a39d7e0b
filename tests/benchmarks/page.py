"""How long a page takes to make and how large it is: the demo's movement, its signs in their readings at two tempos.

python -m tests.benchmarks.page
"""

import json
import re
import tempfile
from pathlib import Path

from tests.benchmarks._timing import APPUI, run

DEMO = Path(__file__).parents[2] / "src" / "appui" / "demo" / "ferry.musicxml"


def main() -> None:
    """Print seconds by the clock and of processor time, megabytes, and how much is on the page."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "page.html"
        spent = run([*APPUI, "page", str(DEMO), str(page)])
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
