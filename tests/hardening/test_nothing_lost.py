"""No command writes over what it reads, over another of its outputs, or unasked over what a person has edited.

Every option and argument of every command that names a file to write is tried: the table is held against the commands'
own parameters, so that a new one cannot be forgotten.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from appui.cli.command import WRITES, WRITES_TEXT
from appui.cli.main import cli
from appui.errors import AppuiError

DEMO = files("appui.demo")
#  command and parameter: words that write one file or folder there, OUT, out of score.musicxml or what else lies there
WORDS: dict[tuple[str, str], str] = {
    ("accompany", "output"): "accompany figured.musicxml OUT",
    ("click", "outputs"): "click score.musicxml OUT --bars 4",
    ("listen", "folder"): "listen score.musicxml take.mid --bars 4 --out OUT",
    ("listen", "table"): "listen score.musicxml take.mid --bars 4 --csv OUT",
    ("record", "output"): "record score.musicxml OUT --bars 4",
    ("render", "picture"): "render score.musicxml out.mid --bars 4 --picture OUT",
    ("batch", "folder"): "batch scores OUT --jobs 1",
    ("compare", "folder"): "compare score.musicxml OUT --at oboe.4.1 --format mid --tempo 100%",
    ("demo", "folder"): "demo OUT",
    ("drill", "page"): "drill heavier score.musicxml --page OUT --trials 1",
    ("drill", "sheet"): "drill heavier score.musicxml --sheet OUT --trials 1",
    ("embellish", "out"): "embellish score.musicxml --at oboe.8.1 --out OUT --format mid",
    ("embellish", "plan_out"): "embellish score.musicxml --plan-out OUT",
    ("new", "output"): "new OUT",
    ("notate", "output"): "notate score.musicxml OUT --bars 4",
    ("page", "output"): "page score.musicxml OUT --bars 4 --tempo 100%",
    ("practice", "outputs"): "practice score.musicxml OUT --bars 4",
    ("progress", "output"): "progress --store results.sqlite --out OUT",
    ("render", "outputs"): "render score.musicxml OUT --bars 4",
    ("styles", "export"): "styles --export OUT",
    ("survey", "harmony_out"): "survey score.musicxml --harmony-out OUT",
    ("survey", "plan_out"): "survey score.musicxml --plan-out OUT",
    ("survey", "sheet"): "survey score.musicxml --sheet OUT",
}
#  the suffix of an output, where it is not a folder
SUFFIX = {
    "output": {
        "accompany": ".musicxml",
        "new": ".abc",
        "notate": ".musicxml",
        "page": ".html",
        "progress": ".csv",
        "record": ".wav",
    },
    "outputs": {"click": ".mid", "practice": ".mid", "render": ".mid"},
    "table": {"listen": ".csv"},
    "picture": {"render": ".svg"},
    "page": {"drill": ".html"},
    "plan_out": {"embellish": ".toml", "survey": ".toml"},
    "harmony_out": {"survey": ".txt"},
    "export": {"styles": ".json"},
    "sheet": {"survey": ".html"},
}


def _written() -> Iterator[tuple[str, str]]:
    group = cli
    assert isinstance(group, click.Group)
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        for parameter in command.params:
            if parameter.type in (WRITES, WRITES_TEXT):
                yield name, parameter.name or ""


def test_every_output_is_in_the_table() -> None:
    """A command that is added says here how it is tried."""
    assert set(_written()) == set(WORDS)


@pytest.fixture(name="desk")
def _desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with what a player has: scores, a plan edited by hand, results."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scores").mkdir()
    for name, where in (("score", "ferry"), ("figured", "lantern")):
        data = DEMO.joinpath(f"{where}.musicxml").read_bytes()
        (tmp_path / f"{name}.musicxml").write_bytes(data)
    (tmp_path / "scores" / "a.musicxml").write_bytes((tmp_path / "figured.musicxml").read_bytes())
    (tmp_path / "take.mid").write_bytes(b"MThd")
    (tmp_path / "mine.toml").write_text('[readings]\n"oboe.4.1" = "short" # my teacher says so\n', encoding="utf-8")
    return tmp_path


def _all(desk: Path) -> dict[str, bytes]:
    return {path.relative_to(desk).as_posix(): path.read_bytes() for path in desk.rglob("*") if path.is_file()}


def _refused(words: str, out: str) -> str:
    """What a command says that refuses; anything but a refusal leaves the runner."""
    done = CliRunner().invoke(cli, [out if word == "OUT" else word for word in words.split()])
    assert done.exit_code != 0, done.output
    assert isinstance(done.exception, AppuiError | SystemExit), done.exception
    return str(done.exception) if isinstance(done.exception, AppuiError) else done.output


def _source(words: str) -> str:
    return next((word for word in words.split() if word.endswith((".musicxml", ".sqlite"))), "")


@pytest.mark.parametrize("key", WORDS, ids=" ".join)
@pytest.mark.parametrize("how", ["itself", "link", "hard link"])
def test_no_output_is_an_input(key: tuple[str, str], how: str, desk: Path) -> None:
    """By its name, through a link, or as a second name of the same file: refused, and every byte as it was."""
    words, source = WORDS[key], _source(WORDS[key])
    if not source:
        pytest.skip("reads no file of the player's")
    if source.endswith(".sqlite"):
        CliRunner().invoke(cli, ["progress", "--store", source])
    name = source
    if how != "itself":
        name = "other" + SUFFIX.get(key[1], {}).get(key[0], "")
        (os.symlink if how == "link" else os.link)(desk / source, desk / name)
    before = _all(desk)
    assert "is a file this command reads" in _refused(words, name)
    assert before == _all(desk)


@pytest.mark.parametrize("key", [key for key in WORDS if key[0] in SUFFIX.get(key[1], {})], ids=" ".join)
@pytest.mark.parametrize("where", ["folder", "device"])
def test_no_output_is_a_folder_or_a_device(key: tuple[str, str], where: str, desk: Path) -> None:
    """A file is written as a file."""
    if where == "device" and not Path("/dev/null").exists():
        pytest.skip("no devices here")
    name = "place" + SUFFIX[key[1]][key[0]]
    if where == "folder":
        (desk / name).mkdir()
    else:
        (desk / name).symlink_to("/dev/null")
    before = _all(desk)
    _refused(WORDS[key], name)
    assert before == {path: data for path, data in _all(desk).items() if not path.startswith("results")}


@pytest.mark.parametrize("key", [key for key in WORDS if (*key,) in {
    ("accompany", "output"), ("embellish", "plan_out"), ("notate", "output"), ("survey", "harmony_out"),
    ("survey", "plan_out"),
}], ids=" ".join)  # fmt: skip
def test_what_was_edited_is_replaced_only_when_asked(key: tuple[str, str], desk: Path) -> None:
    """Refused at first; with `--replace` written, and what was there is kept beside it."""
    name = "edited" + SUFFIX[key[1]][key[0]]
    mine = (desk / "mine.toml").read_bytes()
    (desk / name).write_bytes(mine)
    assert "--replace" in _refused(WORDS[key], name)
    assert mine == (desk / name).read_bytes()
    done = CliRunner().invoke(cli, [name if word == "OUT" else word for word in (*WORDS[key].split(), "--replace")])
    assert 0 == done.exit_code, done.output
    assert mine == (desk / f"{name}.before").read_bytes()
    assert mine != (desk / name).read_bytes()


def test_what_nobody_edited_is_written_again_unasked(desk: Path) -> None:
    """The second run of a command is as the first, and nothing is kept beside."""
    for _ in range(2):
        assert 0 == CliRunner().invoke(cli, ["survey", "score.musicxml", "--plan-out", "plan.toml"]).exit_code
    assert [] == list(desk.glob("*.before*"))


def test_what_is_replaced_again_is_kept_again(desk: Path) -> None:
    """Nothing that was kept is written over either."""
    words = ["survey", "score.musicxml", "--plan-out", "mine.toml", "--replace"]
    first = (desk / "mine.toml").read_bytes()
    CliRunner().invoke(cli, words)
    second = (desk / "mine.toml").read_bytes() + b"# and this\n"
    (desk / "mine.toml").write_bytes(second)
    CliRunner().invoke(cli, words)
    assert (first, second) == ((desk / "mine.toml.before").read_bytes(), (desk / "mine.toml.before1").read_bytes())


def test_a_plan_may_be_worked_on_when_asked(desk: Path) -> None:
    """The plan that is read is the one that is written: with `--replace`, and kept beside."""
    words = "survey score.musicxml --plan mine.toml --plan-out OUT"
    assert 0 == CliRunner().invoke(cli, ["survey", "score.musicxml", "--plan-out", "mine.toml", "--replace"]).exit_code
    (desk / "mine.toml.before").unlink()
    mine = (desk / "mine.toml").read_bytes()
    assert "this command reads" in _refused(words, "mine.toml")
    assert 0 == CliRunner().invoke(cli, [*words.replace("OUT", "mine.toml").split(), "--replace"]).exit_code
    assert mine == (desk / "mine.toml.before").read_bytes()


def test_a_score_is_never_written_over(desk: Path) -> None:
    """Not even when asked to replace."""
    before = _all(desk)
    _refused("notate score.musicxml OUT --replace", "score.musicxml")
    assert before == _all(desk)


@pytest.mark.parametrize(
    "words",
    [
        "survey score.musicxml --plan-out a.toml --harmony-out a.toml",
        "survey score.musicxml --plan-out a.toml --harmony-out ./a.toml",
        "render score.musicxml a.mid link.mid",
        "practice score.musicxml a.mid a.mid",
    ],
)
def test_no_two_outputs_are_one_file(words: str, desk: Path) -> None:
    """By name or by link."""
    (desk / "link.mid").symlink_to("a.mid")
    before = _all(desk)
    assert "only one of them could stay" in _refused(words, "")
    assert before == _all(desk)


def test_a_set_whose_track_is_a_link_to_the_score_is_refused(desk: Path) -> None:
    """What a set file names is held to the same rule."""
    (desk / "a.mid").symlink_to("score.musicxml")
    (desk / "set.toml").write_text(
        'score = "score.musicxml"\nfolder = "."\nformats = ["mid"]\n[[track]]\nname = "a"\nbars = "4"\n',
        encoding="utf-8",
    )
    before = _all(desk)
    _refused("practice --set set.toml", "")
    assert before == {path: data for path, data in _all(desk).items() if "index" not in path}


def test_a_list_of_scores_is_not_the_report(desk: Path) -> None:
    """A list called as the batch calls its report stays what it is."""
    (desk / "report.jsonl").write_text("score.musicxml\n", encoding="utf-8")
    before = _all(desk)
    _refused("batch report.jsonl .", "")
    assert before == _all(desk)


def test_an_option_said_twice_is_refused(desk: Path) -> None:
    """Where it can be said once, the first would be lost."""
    assert "--plan-out stands there 2 times" in _refused(
        "survey score.musicxml --plan-out a.toml --plan-out b.toml", ""
    )
    assert not (desk / "b.toml").exists()


def test_a_take_is_never_written_over(desk: Path) -> None:
    """What was played once cannot be played again."""
    (desk / "take.wav").write_bytes(b"a take")
    assert "cannot be played again" in _refused("record score.musicxml OUT --bars 4", "take.wav")
    assert b"a take" == (desk / "take.wav").read_bytes()
