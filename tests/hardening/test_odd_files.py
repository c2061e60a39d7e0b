"""Files of the system, devices, pipes, other people's databases: refused in a sentence, never waited for."""

from __future__ import annotations

import os
import sqlite3
import struct
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from appui.batch.collect import collect
from appui.batch.report import REPORT
from appui.batch.run import run_batch
from appui.cli.main import cli
from appui.drill.results import results_of
from appui.drill.store import Row, Store, rows_to_json
from appui.errors import AppuiError, InputError, OutputError, ScoreError, SoundError, StoreError
from appui.musicxml.read.source import load
from appui.practice.deliver import read_index
from appui.practice.week import digest_of, read_week
from appui.sound.files import make_folder, write_whole
from appui.sound.soundfont import soundfont_path
from appui.text import text_of
from tests.hardening.commands import FERRY

KERNEL = Path("/proc/version")
needs_proc = pytest.mark.skipif(not KERNEL.is_file(), reason="no /proc here")


def _said(*words: str) -> str:
    """The sentence a command ends with; anything but an error of ours leaves the runner."""
    done = CliRunner().invoke(cli, words)
    assert isinstance(done.exception, AppuiError), done.output
    return str(done.exception)


def _no_pipe_is_opened(path: Path) -> Path:
    """A pipe nobody writes to: opening it would wait for ever."""
    os.mkfifo(path)
    return path


# what is read

_MISSING = "none.xml: there is no such file. Remedy: check the path."


@needs_proc
def test_a_file_of_the_kernel_is_as_if_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    """Such files have no size; some of them are read without end, so none is."""

    def opened(self: Path, *_: object, **__: object) -> object:
        raise AssertionError(self)

    monkeypatch.setattr(Path, "open", opened)
    assert "" == text_of(KERNEL, InputError, "plan", "")
    with pytest.raises(ScoreError, match="version: is empty"):
        load(KERNEL)
    with pytest.raises(InputError, match="holds no score"):
        collect(KERNEL)


def test_a_list_of_scores_that_is_a_pipe_is_refused(tmp_path: Path) -> None:
    """Or names one: then the row says so and the others go on."""
    pipe = _no_pipe_is_opened(tmp_path / "pipe.xml")
    with pytest.raises(InputError, match=r"the list of scores cannot be read: it is no ordinary file"):
        collect(pipe)
    names = tmp_path / "list.txt"
    names.write_text(f"pipe.xml\n{FERRY}\nnone.xml\n", encoding="utf-8")
    rows = {row.error.split(",")[0]: row.status for row in run_batch(names, tmp_path / "out", workers=1)}
    refusals = dict.fromkeys(("pipe.xml: is a device or a pipe", _MISSING), "refused")
    assert {"": "done"} | refusals == rows


def test_a_folder_whose_files_vanish_is_walked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As in the kernel's own folders; what is left is found."""
    (tmp_path / "gone").mkdir()
    (tmp_path / "a.xml").write_bytes(b"<a/>")
    lists = os.scandir

    def vanishing(path: str) -> object:
        if Path(path).name == "gone":
            raise FileNotFoundError(2, "No such file or directory", path)
        return lists(path)

    monkeypatch.setattr(os, "scandir", vanishing)
    assert ["a.xml"] == [found.name for found in collect(tmp_path)]


def test_a_report_or_index_that_is_a_pipe_is_not_opened(tmp_path: Path) -> None:
    """In a folder that may come from anybody."""
    _no_pipe_is_opened(tmp_path / REPORT)
    with pytest.raises(OutputError, match=r"report\.jsonl: is no ordinary file"):
        run_batch(Path(FERRY).parent, tmp_path, workers=1)
    assert [] == read_index(_no_pipe_is_opened(tmp_path / "index.json"))


@pytest.mark.parametrize("kind", ["pipe", "folder", "too large", "missing", "Latin-1"])
def test_results_that_cannot_be_read_are_refused(kind: str, tmp_path: Path) -> None:
    """Nothing is waited for or read beyond bounds."""
    path = tmp_path / "results.json"
    if kind == "pipe":
        _no_pipe_is_opened(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "too large":
        with path.open("wb") as stream:
            stream.truncate(200_000_000)
    elif kind == "Latin-1":
        path.write_bytes("{'ö'}".encode("latin-1"))
    said = _said("progress", "--store", str(tmp_path / "store"), "--import", str(path))
    assert str(path) in said
    assert "Errno" not in said


def test_a_set_whose_score_may_not_be_read_is_told_by_its_reader(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Made up here, since root may read anything."""
    (tmp_path / "a.xml").write_bytes(b"<a/>")
    (tmp_path / "set.toml").write_text('score = "a.xml"\nfolder = "."\n[[track]]\nname = "a"\n', encoding="utf-8")
    week = read_week(tmp_path / "set.toml")
    before = digest_of(week)
    whole = Path.open

    def forbidden(self: Path, *words: Any, **named: Any) -> Any:
        if self.name == "a.xml":
            raise PermissionError(13, "Permission denied", str(self))
        return whole(self, *words, **named)

    monkeypatch.setattr(Path, "open", forbidden)
    assert before != digest_of(week)


# SoundFonts


def _riff(body: bytes, claimed: int | None = None) -> bytes:
    return b"RIFF" + struct.pack("<I", 4 + len(body) if claimed is None else claimed) + b"sfbk" + body


def test_a_soundfont_of_zeros_is_not_walked_to_its_end(tmp_path: Path) -> None:
    """Four gigabytes of nothing are half a milliard empty chunks."""
    path = tmp_path / "zeros.sf2"
    with path.open("wb") as stream:
        stream.write(_riff(b"", claimed=2**32 - 16))
        stream.truncate(2**32)
    with pytest.raises(SoundError, match="more than 1,000 chunks in sfbk"):
        soundfont_path(path)


def test_a_soundfont_of_more_presets_than_numbers_is_refused(tmp_path: Path) -> None:
    """A gigabyte of them would be read at once."""
    path = tmp_path / "many.sf2"
    whole = soundfont_path().read_bytes()
    at = whole.index(b"phdr")
    presets = bytes(38 * 70_000)
    size = struct.unpack_from("<I", whole, at + 4)[0]
    table = whole[:at] + b"phdr" + struct.pack("<I", len(presets)) + presets + whole[at + 8 + size :]
    grown = bytearray(table)
    more = len(presets) - size
    for place in (4, whole.index(b"pdta") - 4):
        struct.pack_into("<I", grown, place, struct.unpack_from("<I", grown, place)[0] + more)
    path.write_bytes(grown)
    with pytest.raises(SoundError, match="more than 65,536 presets"):
        soundfont_path(path)


# databases


ROW = Row("Ada", "s", 1, "2026-01-01T12:00:00+00:00", "heavier", 2.0, "dB", 0, 0, 3)


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("DROP TABLE trial", "has not the tables of our results"),
        ("UPDATE trial SET level = 'loud'", "row 1: level is 'loud'"),
        ("UPDATE trial SET given = x'00'", "row 1: given is"),
        ("UPDATE trial SET player = cast(x'ff' AS TEXT)", "is damaged"),
        ("UPDATE trial SET level = 9e999", "row 1"),
        ("UPDATE trial SET answer = 9", "row 1: its level or answers are out of range"),
        ("ALTER TABLE trial RENAME COLUMN level TO loudness", "has not the tables of our results"),
    ],
)
def test_a_database_that_holds_something_else_is_refused(statement: str, words: str, tmp_path: Path) -> None:
    """SQLite keeps anything in any column."""
    path = tmp_path / "drill.sqlite"
    with Store.open(path) as store:
        store.add(ROW)
    with sqlite3.connect(path) as link:
        link.execute(statement)
    link.close()
    with Store.open(path) as store, pytest.raises(StoreError) as refused:
        store.rows()
    assert words in str(refused.value)


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/full", "/proc/version", "/proc", "pipe"])
def test_a_database_that_is_a_device_is_refused(name: str, tmp_path: Path) -> None:
    """Or a pipe, or a file of the kernel's."""
    path = _no_pipe_is_opened(tmp_path / name) if name == "pipe" else Path(name)
    if not path.exists():
        pytest.skip("not here")
    with pytest.raises(StoreError, match=str(path)), Store.open(path) as store:
        store.rows()


# places to write to


@needs_proc
def test_a_place_that_takes_no_files_is_called_so() -> None:
    """The kernel says of a new file in its folders that it is not found; the folder is there all the same."""
    with pytest.raises(OutputError, match=r"/proc/a\.mid: cannot be written: the system takes no files in /proc\. Rem"):
        write_whole(Path("/proc/a.mid"), b"")
    with pytest.raises(OutputError, match=r"/proc/a/b: the folder cannot be made \(the system takes none in /proc\)"):
        make_folder(Path("/proc/a/b"))
    with pytest.raises(OutputError, match=r"its folder /proc/a does not exist"):
        write_whole(Path("/proc/a/b"), b"")


@needs_proc
@pytest.mark.parametrize(
    "words",
    [
        ("render", FERRY, "/proc/a.mid", "--bars", "1"),
        ("notate", FERRY, "/proc/a.musicxml"),
        ("page", FERRY, "/proc/a.html", "--bars", "1"),
        ("batch", str(Path(FERRY).parent), "/proc/a"),
        ("compare", FERRY, "/proc/a", "--format", "mid", "--at", "oboe.12.1"),
        ("practice", FERRY, "/proc/a.mid", "--bars", "1"),
        ("survey", FERRY, "--plan-out", "/proc/a.toml"),
        ("drill", "heavier", "--page", "/proc/a.html", "--trials", "1"),
        ("drill", "heavier", "--sheet", "/proc/a", "--trials", "1"),
        ("progress", "--store", "STORE", "--out", "/proc/a.csv"),
        ("demo", "/proc/a"),
        ("styles", "--export", "/proc/a.json"),
    ],
    ids=lambda words: " ".join(words)[:30].replace("/", "_"),
)
def test_every_command_says_so(words: tuple[str, ...], tmp_path: Path) -> None:
    """In one sentence that names the place."""
    said = _said(*(str(tmp_path / "store") if word == "STORE" else word for word in words))
    assert "/proc" in said
    assert "takes no" in said


# imported results


def test_rows_of_any_lawful_value_are_results(tmp_path: Path) -> None:
    """What an import lets through can be shown."""
    rows = [
        ROW._replace(number=n, level=level, answer=n % 2, given=n % 3 % 2, moment=moment)
        for n, (level, moment) in enumerate([(1e-300, ""), (999_999.0, "x"), (1, "9999-99-99")] * 10)
    ]
    path = tmp_path / "results.json"
    path.write_text(rows_to_json(rows), encoding="utf-8")
    store = str(tmp_path / "store")
    done = CliRunner().invoke(cli, ["progress", "--store", store, "--import", str(path)], catch_exceptions=False)
    assert "30 new answers" in done.output
    for name in ("a.svg", "a.csv", "a.json"):
        CliRunner().invoke(cli, ["progress", "--store", store, "--out", str(tmp_path / name)], catch_exceptions=False)
        assert (tmp_path / name).exists()
    done = CliRunner().invoke(cli, ["progress", "--store", store], catch_exceptions=False)
    assert "30 answers" in done.output
    assert 1 == len(results_of(rows))
