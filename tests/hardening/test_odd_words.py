"""Names in other encodings, terminals that are closed, full or narrow, words of any length, wishes that say nothing."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import struct
import subprocess
import sys
import termios
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from appui.__main__ import run as program
from appui.cli.main import cli
from appui.errors import AppuiError, OutputError, ScoreError, shortened
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.sound.files import write_whole
from tests.hardening.commands import environment

FERRY = str(files("appui.demo").joinpath("ferry.musicxml"))
#  "café" as archives of the nineties have it
ODD = os.fsdecode(b"caf\xe9.musicxml")


def _run(*words: str, cwd: Path, **streams: int | None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "appui", *words]
    given: dict[str, Any] = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | streams
    done: subprocess.CompletedProcess[str] = subprocess.run(
        command, cwd=cwd, env=environment(), check=False, text=True, **given
    )
    return done


@pytest.fixture(name="odd")
def _odd(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a score whose name is no UTF-8."""
    monkeypatch.chdir(tmp_path)
    try:
        (tmp_path / ODD).write_bytes(Path(FERRY).read_bytes())
    except OSError:
        pytest.skip("such names cannot be made here")
    return tmp_path


@pytest.mark.parametrize(
    "words",
    [
        "survey ODD --bars 4",
        "render ODD x.mid --bars 4",
        "practice ODD x.mid --bars 4",
        "notate ODD x.musicxml --bars 4",
        "page ODD x.html --bars 4 --tempo 100%",
        "embellish ODD",
        "compare ODD heard --at oboe.4.1 --format mid --tempo 100%",
        "drill lean-or-pass ODD --page x.html --trials 1",
        "styles --compare oboe.4.1 ODD",
        "batch . out --jobs 1",
    ],
)
def test_a_name_that_is_no_utf_8_stops_nothing(words: str, odd: Path) -> None:
    """The file is read, and its name shown with the number of the odd byte."""
    assert odd.is_dir()
    done = CliRunner().invoke(cli, [ODD if word == "ODD" else word for word in words.split()])
    assert 0 == done.exit_code, (done.output, done.exception)


def test_a_batch_reports_an_odd_name(odd: Path) -> None:
    """As text that any program can read, and takes up where it was."""
    for _ in range(2):
        assert 0 == CliRunner().invoke(cli, ["batch", ".", "out", "--jobs", "1"]).exit_code
    rows = [json.loads(line) for line in (odd / "out" / "report.jsonl").read_text(encoding="utf-8").splitlines()]
    assert ["caf\\xe9.musicxml"] == [row["score"] for row in rows]


def test_errors_show_odd_names(odd: Path) -> None:
    """Without a code point that no text may have."""
    (odd / ODD).write_bytes(b"<a/>")
    done = CliRunner().invoke(cli, ["survey", ODD])
    assert str(done.exception).startswith("caf\\xe9.musicxml: ")


@pytest.mark.parametrize("words", ["drill heavier --seed ODD --page x.html", f"render {FERRY} x.mid --take a=ODD"])
def test_odd_bytes_in_words_are_refused(words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A seed or a reading is text."""
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(cli, [word.replace("ODD", ODD) for word in words.split()])
    assert (2, True) == (done.exit_code, "is no text in UTF-8" in done.output)


def test_a_link_that_points_to_itself_is_written_as_a_file(tmp_path: Path) -> None:
    """There is nothing behind it to lose."""
    (tmp_path / "a.mid").symlink_to("a.mid")
    done = CliRunner().invoke(cli, ["render", FERRY, str(tmp_path / "a.mid"), "--bars", "4"])
    assert (0, True) == (done.exit_code, (tmp_path / "a.mid").is_file())


def test_a_link_into_a_missing_folder_names_that_folder(tmp_path: Path) -> None:
    """And not the one the link lies in, which is there."""
    (tmp_path / "a.mid").symlink_to("missing/a.mid")
    with pytest.raises(OutputError, match=r"its folder .*missing does not exist"):
        write_whole(tmp_path / "a.mid", b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
@pytest.mark.parametrize("words", [["survey", FERRY], ["survey", FERRY, "--json"], ["styles"]])
def test_what_is_printed_to_a_full_disk_is_said(words: list[str], tmp_path: Path) -> None:
    """In one sentence."""
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = _run(*words, cwd=tmp_path, stdout=full.fileno())
    assert 1 == done.returncode
    assert done.stderr.startswith("appui: what is printed cannot be written")


def test_closed_streams_are_no_fault(tmp_path: Path) -> None:
    """Nobody listens; the plan is written all the same."""
    words = f"{sys.executable} -m appui survey {FERRY} --plan-out plan.toml >&- 2>&-"
    done = subprocess.run(["sh", "-c", words], cwd=tmp_path, env=environment(), check=False)
    assert (0, True) == (done.returncode, (tmp_path / "plan.toml").exists())


@pytest.mark.parametrize("words", ["survey LONG", "render S x.mid --bars LONG", "render S x.mid --tempo LONG",
                                   "render S x.mid --slowing LONG", "practice S x.mid --mode LONG"])  # fmt: skip
def test_words_of_any_length_are_not_echoed_whole(words: str, tmp_path: Path) -> None:
    """A page of one letter tells nobody anything."""
    done = _run(*words.replace("LONG", "a" * 9_000).replace("S ", f"{FERRY} ").split(), cwd=tmp_path)
    assert done.returncode in (1, 2)
    assert len(done.stderr) < 1_500


def test_a_path_of_usual_length_is_said_whole() -> None:
    """Nobody finds half a path."""
    path = "/home/player/music/" + "a" * 200
    assert path in shortened(f"{path}: cannot be read")


def test_a_set_whose_score_has_a_name_of_ten_thousand_letters_is_refused(tmp_path: Path) -> None:
    """The system takes no such name."""
    (tmp_path / "set.toml").write_text(f'score = "{"a" * 10_000}"\nfolder = "."\n[[track]]\nname = "a"\n', "utf-8")
    done = CliRunner().invoke(cli, ["practice", "--set", str(tmp_path / "set.toml")])
    assert isinstance(done.exception, AppuiError)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("--tempo 50%..100% --steps 0", "0 steps are no ladder"),
        ("--levels accompaniment=off", "nothing would sound"),
        ("--mode guide --levels accompaniment=off,solo=off", "nothing would sound"),
        ("--click beats --levels accompaniment=off,click=off", "nothing would sound"),
        ("--levels solo=off --levels click=-3", "--levels stands there 2 times"),
    ],
)
def test_wishes_that_say_nothing_are_refused(words: str, message: str, tmp_path: Path) -> None:
    """Silence, no steps, and half of what was typed are not what anybody meant."""
    done = CliRunner().invoke(cli, ["practice", FERRY, str(tmp_path / "x.mid"), "--bars", "4", *words.split()])
    assert 2 == getattr(done.exception, "exit_code", done.exit_code)
    assert message in f"{done.exception} {done.output}"
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["a\tb", "a\x1b[31m", "a\nb", ""])
def test_a_player_is_called_by_letters(name: str, tmp_path: Path) -> None:
    """Nothing that moves the cursor or colours the terminal."""
    done = CliRunner().invoke(cli, ["drill", "heavier", "--player", name, "--store", str(tmp_path / "a.sqlite")])
    assert "is no name" in str(done.exception)


@pytest.mark.parametrize("columns", [60, 20])
def test_a_narrow_terminal_cuts_no_word(columns: int, tmp_path: Path) -> None:
    """A paragraph an ornament instead of a table."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    words = [sys.executable, "-m", "appui", "survey", FERRY, "--bars", "3"]
    with subprocess.Popen(words, cwd=tmp_path, env=environment(), stdout=theirs, stderr=theirs):
        os.close(theirs)
        said = _all_of(ours)
    assert "…" not in said
    assert "short:" in said
    assert "dissonance" in said


def _all_of(stream: int) -> str:
    found = b""
    try:
        while block := os.read(stream, 4096):
            found += block
    except OSError:  # the other end is closed
        pass
    os.close(stream)
    return found.decode()


_NOTE = "<note><pitch><step>{}</step>{}<octave>{}</octave></pitch><duration>4</duration><type>whole</type></note>"
_SCORE = """<score-partwise><part-list><score-part id="P1"><part-name>{}</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>{}</measure></part></score-partwise>
"""


@pytest.mark.parametrize(
    ("note", "words"),
    [
        (("C", "<alter>0.5</alter>", 4), "quarter tones (bar 1) are played as the nearest semitone"),
        (("B", "", 9), "notes beyond MIDI's keys (bar 1) are played as the first or last of them"),
    ],
)
def test_what_no_key_plays_is_said(note: tuple[str, str, int], words: str, tmp_path: Path) -> None:
    """What sounds is not what is shown."""
    path = tmp_path / "a.musicxml"
    path.write_text(_SCORE.format("Oboe", _NOTE.format(*note)), encoding="utf-8")
    player = interpret(path)
    assert (("Oboe", words),) == play(player, player.order(None, repeats=True)).notices


def test_a_drum_has_no_neighbour_to_trill_with(tmp_path: Path) -> None:
    """It would be another drum: the note stays plain, and the survey says so."""
    drum = (
        "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
        "<duration>4</duration><type>whole</type><notations><ornaments><trill-mark/></ornaments></notations></note>"
    )
    path = tmp_path / "a.musicxml"
    path.write_text(_SCORE.format("Drum", drum), encoding="utf-8")
    player = interpret(path, Wishes(solo="1"))
    (choice,) = player.choices.values()
    assert ("plain", "a note without a pitch has no neighbour to play: it stays plain") == (
        choice.reading.text,
        choice.why,
    )
    assert 1 == sum(len(part.notes) for part in play(player, player.order(None, repeats=True)).parts)


def test_pages_for_print_are_the_same_every_time(tmp_path: Path) -> None:
    """The engraver's ids are not drawn by chance."""
    for name in ("a", "b"):
        words = ["notate", FERRY, str(tmp_path / f"{name}.svg"), "--bars", "4"]
        assert 0 == CliRunner().invoke(cli, words, catch_exceptions=False).exit_code
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_an_interrupt_while_the_program_loads_is_no_fault(monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    """A sentence instead of a page about where it was."""

    def interrupted() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("appui.cli.main.run", interrupted)
    with pytest.raises(SystemExit) as ended:
        program()
    assert (1, "stopped: nothing more is written\n") == (ended.value.code, capsys.readouterr().err)


def test_a_page_is_refused_before_its_sound_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sound takes the time."""

    def cannot_be_engraved(*_: object) -> None:
        raise ScoreError("ferry", "cannot be engraved")

    def rendered(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr("appui.page.build.written_staves", cannot_be_engraved)
    monkeypatch.setattr("appui.page.build.make_sheets", rendered)
    done = CliRunner().invoke(cli, ["page", FERRY, str(tmp_path / "a.html"), "--bars", "4", "--tempo", "100%"])
    assert isinstance(done.exception, ScoreError)
    assert [] == list(tmp_path.iterdir())
