"""The file itself: nothing outside it, nothing of the score's in its markup, whole or not at all."""

import base64
import gzip
import hashlib
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

import appui.page.build
from appui.cli.main import cli
from appui.errors import OutputError, SoundError, UsageError
from appui.page.build import _packed, json_for_script

Make = Callable[..., Path]


class Tags(HTMLParser):
    """The tags of a page with their attributes, and the text of its scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A tag; a script begins without text."""
        self.tags.append((tag, dict(attrs)))
        if tag == "script":
            self.scripts.append("")

    def handle_data(self, data: str) -> None:
        """Text, kept where it is a script's."""
        if self.cdata_elem == "script":
            self.scripts[-1] += data


def test_the_page_asks_for_nothing(page_file: Path) -> None:
    """No tag names anything outside the file; the only style and font are in it."""
    text = page_file.read_text(encoding="utf-8")
    page = Tags(text)
    named = {
        value
        for _, attributes in page.tags
        for name, value in attributes.items()
        if name in ("src", "href", "data", "poster") and value and not value.startswith("#")
    }
    assert set() == named
    assert {"data:application/font-woff2;charset=utf-8;base64"} == {
        found.split(",")[0] for found in re.findall(r"url\(([^)]{1,60})", text)
    }


def test_the_policy_lets_the_page_s_own_program_run_alone(page_file: Path) -> None:
    """The digest in the policy is that of the one script that is a program."""
    page = Tags(page_file.read_text(encoding="utf-8"))
    policy = next(a["content"] for tag, a in page.tags if a.get("http-equiv") == "Content-Security-Policy")
    digest = base64.b64encode(hashlib.sha256(page.scripts[-1].encode()).digest()).decode()
    assert policy is not None
    assert "default-src 'none'" in policy
    assert f"script-src 'sha256-{digest}';" in policy


@pytest.mark.parametrize("value", ["</script><script>", "<!--", "&lt;", {"a": ["<b>"]}, "\u2028"])
def test_data_cannot_leave_its_script(value: object) -> None:
    """It is read again as it was, and has no character that means anything to HTML."""
    text = json_for_script(value)
    assert value == json.loads(text)
    assert not set("<>&") & set(text)


def test_a_title_is_text_in_the_file(made: Make, hostile: Path, tmp_path: Path) -> None:
    """As many scripts as the page has of its own, whatever the score is called."""
    page = Tags(made(hostile, tmp_path / "h.html", tempos=("100%",)).read_text(encoding="utf-8"))
    sheets = sum(1 for tag, attributes in page.tags if tag == "script" and attributes.get("type") == "text/plain")
    assert 1 == sheets  # a solo without accompaniment
    assert sheets + 3 == len(page.scripts)
    assert "img" not in {tag for tag, _ in page.tags}


def test_the_same_page_twice(made: Make, demo: Path, tmp_path: Path) -> None:
    """Same input, same bytes."""
    first, second = (
        made(demo, tmp_path / f"{name}.html", "4-4", tempos=("100%",), solo="oboe") for name in ("one", "two")
    )
    assert first.read_bytes() == second.read_bytes()


def test_another_suffix_is_refused(made: Make, demo: Path, tmp_path: Path) -> None:
    """A page is named as one."""
    with pytest.raises(UsageError, match=r"a page ends in \.html"):
        made(demo, tmp_path / "page.pdf")


def test_a_place_that_cannot_be_written_is_refused_at_once(made: Make, demo: Path, tmp_path: Path) -> None:
    """Before anything is engraved or rendered, and nothing is left there."""
    with pytest.raises(OutputError, match=r"nowhere/page\.html: its folder .* does not exist"):
        made(demo, tmp_path / "nowhere" / "page.html", soundfont=Path("/no/such/font"))
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        made(demo, tmp_path / "folder.html", soundfont=Path("/no/such/font"))
    assert ["folder.html"] == [path.name for path in tmp_path.iterdir()]


def test_what_was_there_stays_when_the_work_fails(made: Make, demo: Path, tmp_path: Path) -> None:
    """An earlier page is replaced by a whole one or not at all."""
    page = tmp_path / "page.html"
    page.write_text("earlier", encoding="utf-8")
    with pytest.raises(SoundError):
        made(demo, page, "4-4", soundfont=Path("/no/such/font"))
    assert "earlier" == page.read_text(encoding="utf-8")
    assert ["page.html"] == [path.name for path in tmp_path.iterdir()]


def test_a_large_page_is_told(monkeypatch: pytest.MonkeyPatch, demo: Path, tmp_path: Path) -> None:
    """With the way out; the page is there all the same."""
    monkeypatch.setattr(appui.page.build, "LARGE_BYTES", 100_000)
    page = tmp_path / "large.html"
    result = CliRunner().invoke(cli, ["page", str(demo), str(page), "--bars", "4-4", "--tempo", "100%"])
    assert 0 == result.exit_code
    assert "--folder" in result.stderr
    assert "1 ornament, " in result.stdout
    assert page.exists()


def test_a_score_without_signs_is_a_page_too(made: Make, demo: Path, tmp_path: Path) -> None:
    """Bars in which nothing is to be decided are engraved, without sound."""
    text = made(demo, tmp_path / "plain.html", "8-9").read_text(encoding="utf-8")
    assert '"signs":[]' in text
    assert "bar-8" in text


def test_many_pictures_are_packed() -> None:
    """A long score's pictures take a fraction of their size, and come out again as they were."""
    systems = tuple(f"<svg>{number}{'<path d=0/>' * 4000}</svg>" for number in range(90))
    packed = _packed({"wide": systems, "narrow": systems[:1]})
    assert packed["packed"]
    assert sum(map(len, packed["wide"])) < sum(map(len, systems)) / 20
    assert list(systems) == [gzip.decompress(base64.b64decode(each)).decode() for each in packed["wide"]]
    assert {"packed": False, "wide": systems[:2], "narrow": systems[:1]} == _packed(
        {"wide": systems[:2], "narrow": systems[:1]}
    )
