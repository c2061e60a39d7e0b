"""Plans, styles, charts, sets and files of cents that a stranger wrote: read, or refused in a sentence; nothing else.

All go through `appui.text`; what each makes of odd values is its own.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from contextlib import suppress
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.accompany.chart import read_chart
from appui.batch.report import REPORT, read_rows
from appui.drill.store import rows_from_json
from appui.errors import (
    AppuiError,
    ChartError,
    InputError,
    OutputError,
    PlanError,
    SoundError,
    StoreError,
    StyleError,
)
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import read_score
from appui.plan.plan import read_plan
from appui.practice.deliver import read_index
from appui.practice.week import make_week, read_week
from appui.score.signs import find_signs
from appui.sound.files import make_folder, write_whole
from appui.sound.soundfont import soundfont_path
from appui.sound.tuning import read_cents
from appui.style.table import load_style
from appui.text import MAX_BYTES, tables_of, text_of

FERRY = Path(str(files("appui.demo").joinpath("ferry.musicxml")))
SCORE = read_score(FERRY)
SIGNS = find_signs(SCORE)

#  what reads a file of the player's, and its own error
READERS: dict[str, tuple[Callable[[Path], object], type[InputError]]] = {
    "plan.toml": (lambda path: read_plan(path, SCORE, SIGNS), PlanError),
    "style.toml": (lambda path: load_style(str(path)), StyleError),
    "chart.txt": (lambda path: read_chart(path, SCORE), ChartError),
    "chart.toml": (lambda path: read_chart(path, SCORE), ChartError),
    "set.toml": (read_week, PlanError),
    "cents.txt": (read_cents, SoundError),
}
TABLES = [name for name in READERS if name.endswith(".toml")]
SPOILT: dict[str, bytes] = {
    "arrays in arrays": b"a = " + b"[" * 5_000 + b"]" * 5_000,
    "tables in tables": b"a = " + b"{a=" * 5_000 + b"1" + b"}" * 5_000,
    "a name of many parts": b".".join([b"a"] * 20_000) + b" = 1",
    "a header of many parts": b"[" + b".".join([b'"a"'] * 20_000) + b"]",
    "a number of many digits": b"a = " + b"9" * 6_000,
    "a NUL": b"a = \x00",
    "no such day": b"a = 2024-13-45",
    "half a letter": b'a = "\\ud800"',
    "a table twice": b"[a]\n[a]",
    "an open string": b'a = "' + b"x" * 100_000,
    "nothing": b"",
}


@pytest.mark.parametrize("name", TABLES)
@pytest.mark.parametrize("kind", SPOILT)
def test_spoilt_tables_are_refused(name: str, kind: str, tmp_path: Path) -> None:
    """Whatever the parser stumbles over, the file is named and nothing leaves but its own error."""
    read, error = READERS[name]
    path = tmp_path / name
    path.write_bytes(SPOILT[kind])
    with pytest.raises(error, match=re.escape(str(path))):
        read(path)


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("kind", ["missing", "folder", "pipe", "too large", "Latin-1", "NUL in its name", "long name"])
def test_what_is_no_text_is_refused(name: str, kind: str, tmp_path: Path) -> None:
    """Nothing there, a folder, a pipe nobody writes to, a huge file, another encoding, an impossible name."""
    read, error = READERS[name]
    path = tmp_path / name
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    elif kind == "too large":
        with path.open("wb") as stream:
            stream.truncate(MAX_BYTES + 1)
    elif kind == "Latin-1":
        path.write_bytes("# Flöte".encode("latin-1"))
    elif kind == "NUL in its name":
        path = tmp_path / f"\x00{name}"
    elif kind == "long name":
        path = tmp_path / ("x" * 5_000 + name)
    with pytest.raises(error, match=r"cannot be read|there is no such|is larger than 10 MB"):
        read(path)


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the system says it; made up here, since root may read anything."""

    def forbidden(self: Path, **words: str) -> str:
        raise PermissionError(13, "Permission denied", str(self))

    path = tmp_path / "plan.toml"
    path.write_text("a = 1", encoding="utf-8")
    monkeypatch.setattr(Path, "read_text", forbidden)
    with pytest.raises(PlanError, match=r"the plan cannot be read \(Permission denied\)"):
        text_of(path, PlanError, "plan", "check the file")


@given(text=st.text(alphabet="abc.\"=[]{}\n# 1,'-", max_size=200))
def test_any_text_is_tables_or_refused(text: str) -> None:
    """No text of the characters that mean something leaves the parser with another error."""
    with suppress(PlanError):
        assert isinstance(tables_of(text, "x.toml", PlanError), dict)


def test_names_of_some_parts_are_read() -> None:
    """The limit on names does not touch what people write, quoted dots and prose among them."""
    text = '[a.b."c.d.e"]\n"oboe.12.3" = "x"    # 1.2.3.4.5.6.7.8.9.10.11.12\n'
    assert {"a": {"b": {"c.d.e": {"oboe.12.3": "x"}}}} == tables_of(text, "x.toml", PlanError)


# styles

_ROW = '[style]\ntitle = "mine"\n[[rule]]\nreading = {}\nwhy = "w"\ncite = "c"\nknown = "read"\n'


def _style(path: Path, text: str) -> Interpretation:
    path.write_text(text, encoding="utf-8")
    return interpret(FERRY, Wishes(style=str(path)))


@pytest.mark.parametrize(
    "reading",
    ["{length.foo}", "leaning {length.__class__}", "{length:>2000000000}", "{length!x}", "{0}", "{", "leaning 1/0",
     "leaning " + "9" * 6_000, "leaning 1/" + "9" * 6_000, "leaning\\u0000"],
)  # fmt: skip
def test_a_reading_of_a_style_is_no_program(reading: str, tmp_path: Path) -> None:
    """Braces stand for two words and nothing else: no attribute is looked up, no gigabyte of blanks is made."""
    with pytest.raises(StyleError, match=r"rule 1, line 3: reading .* cannot be used"):
        _style(tmp_path / "mine.toml", _ROW.format(f'"{reading}"'))


def test_a_reading_of_a_style_has_its_two_words(tmp_path: Path) -> None:
    """``{length}`` is still filled in."""
    interpretation = _style(tmp_path / "mine.toml", _ROW.format('"leaning {length}"'))
    assert any(choice.reading.text.startswith("leaning 1/") for choice in interpretation.choices.values())


@pytest.mark.parametrize("when", [">= 1/0", ">= 1/00", ">= 1/x", ">", ">= " + "9" * 6_000, "< -1"])
def test_a_comparison_that_is_none_is_refused(when: str, tmp_path: Path) -> None:
    """A slip in a number is said, and is no rule that never holds."""
    text = _ROW.format('"plain"') + f'when = {{ main_s = "{when}" }}\n'
    with pytest.raises(StyleError, match=r"main_s = .* is no condition"):
        _style(tmp_path / "mine.toml", text)


# charts, sets, SoundFonts


@pytest.mark.parametrize(
    "line", ["1.1+1/00 G", "1.1+0/0 G", "1.0 G", "9999999999 G", "1 V" + "6" * 5_000, "1 " + "G" * 100_000, "1\x00 G"]
)
def test_a_line_of_a_chart_that_is_none_is_refused(line: str, tmp_path: Path) -> None:
    """With its line."""
    path = tmp_path / "chart.txt"
    path.write_text(f"key G minor\n{line}\n", encoding="utf-8")
    with pytest.raises(ChartError, match="line 2"):
        read_chart(path, SCORE)


@pytest.mark.parametrize(
    "words",
    ["times = 1000000000", "pan = nan", "pan = inf", "pan = " + "9" * 4_000, "pitch = " + "9" * 4_000, "steps = 3",
     "bars = " + "9" * 4_000, 'click = "every 99999999999"', 'levels = "solo=nan"', 'transpose = "M99999999"',
     'tuning = "../../../etc/passwd"', 'tuning = "a\\u0000.txt"', 'name = "a\\u0000"', 'name = "a\\nb"',
     'name = "\\u202efdp"', 'name = "../a"', 'name = "/a"'],
)  # fmt: skip
def test_a_value_of_a_set_that_is_none_is_refused(words: str, tmp_path: Path) -> None:
    """Numbers beyond any meaning, names no file can have, files that hold something else."""
    path = tmp_path / "set.toml"
    name = "" if words.startswith("name") else 'name = "a"\n'
    path.write_text(f'score = "ferry.musicxml"\n[[track]]\n{name}{words}\n', encoding="utf-8")
    with pytest.raises((PlanError, SoundError)):
        read_week(path)


@pytest.mark.parametrize("key", ["score", "folder", "style", "plan", "soundfont"])
def test_a_path_of_a_set_that_is_none_is_refused(key: str, tmp_path: Path) -> None:
    """A NUL in a path reaches no call of the system."""
    paths = {"score": str(FERRY), "folder": "out"} | {key: "a\\u0000.toml"}
    head = "".join(f'{name} = "{value}"\n' for name, value in paths.items())
    path = tmp_path / "set.toml"
    path.write_text(f'{head}formats = ["mid"]\n[[track]]\nname = "a"\nbars = "1-2"\n', encoding="utf-8")
    with pytest.raises(AppuiError, match=r"null|NUL|no style here"):
        make_week(read_week(path))


def test_a_name_no_file_can_have_is_refused_before_writing(tmp_path: Path) -> None:
    """Outputs and folders alike."""
    with pytest.raises(OutputError, match="no name a file can have"):
        write_whole(tmp_path / "a\x00b", b"")
    with pytest.raises(OutputError, match="no name a file can have"):
        make_folder(tmp_path / "a\x00b")


@pytest.mark.parametrize("name", ["pipe.sf2", "/dev/zero", "a\x00.sf2"])
def test_what_is_no_soundfont_is_not_read(name: str, tmp_path: Path) -> None:
    """A pipe nobody writes to, a device without end, an impossible name."""
    path = tmp_path / name
    if name == "pipe.sf2":
        os.mkfifo(path)
    with pytest.raises(SoundError):
        soundfont_path(path)


# what earlier runs have left

_FIELDS = (
    '"digest": [], "files": {}',
    '"digest": "a", "files": 3',
    '"digest": "a", "files": {}, "lufs": NaN',
    '"digest": "a", "files": {}, "lufs": 1e999',
    '"digest": "a", "files": {}, "lufs": "b"',
)


@pytest.mark.parametrize(
    "text",
    ["[" * 100_000, '{"tracks": 3}', '{"tracks": [{"title": "a"}]}', '{"tracks": [' + "9" * 6_000 + "]}", "\x00"]
    + [f'{{"tracks": [{{"title": "a", "words": "", {fields}}}]}}' for fields in _FIELDS],
)  # fmt: skip
def test_an_index_that_is_not_ours_is_as_if_not_there(text: str, tmp_path: Path) -> None:
    """A set goes on in a folder whose index holds anything."""
    path = tmp_path / "index.json"
    path.write_text(text, encoding="utf-8")
    assert [] == read_index(path)


@pytest.mark.parametrize("line", ["[" * 100_000, "9" * 6_000, "{}", "null", '"a"'])
def test_a_report_that_is_not_ours_is_as_if_not_there(line: str, tmp_path: Path) -> None:
    """A batch goes on in a folder whose report holds anything."""
    (tmp_path / REPORT).write_text(line + "\n", encoding="utf-8")
    assert {} == read_rows(tmp_path)


@pytest.mark.parametrize("text", ["[" * 100_000, "9" * 6_000, "{}", "null", '{"format": []}', "\x00"])
def test_results_that_are_not_ours_are_refused(text: str) -> None:
    """By name."""
    with pytest.raises(StoreError, match=r"results\.json"):
        rows_from_json(text, Path("results.json"))
