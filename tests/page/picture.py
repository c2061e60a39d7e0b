"""Makes the picture of the page in the README and the manual, with Chromium.

python -m tests.page.picture
"""

import subprocess
import sys
import tempfile
from pathlib import Path
from shutil import which

from playwright.sync_api import sync_playwright

TOP = Path(__file__).parents[2]
DEMO = TOP / "src" / "appui" / "demo" / "ferry.musicxml"
PICTURE = TOP / "src" / "appui" / "manual" / "page.png"


def main() -> None:
    """A page of bars 14 to 21, the panel of the leaning note of bar 20 open."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        page_file = Path(folder) / "page.html"
        words = ["page", str(DEMO), str(page_file), "--bars", "14-21", "--tempo", "60%"]
        subprocess.run([sys.executable, "-m", "appui", *words], check=True)
        opened = playwright.chromium.launch(executable_path=which("chromium"), args=["--no-sandbox", "--disable-gpu"])
        page = opened.new_page(viewport={"width": 1280, "height": 860})
        page.goto(page_file.as_uri())
        page.get_by_label("bar 20, beat 1").first.click()
        page.mouse.move(0, 0)
        page.screenshot(path=PICTURE)
        opened.close()


if __name__ == "__main__":
    main()
