"""One movement of a file that has several, with every command that reads a score."""

import json

import pytest
from click.testing import CliRunner

from appui.cli.main import cli
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from tests.written import bar, grace, note, part, text

SMALL = grace("D5")


def _head(words: str, fifths: int) -> str:
    key = f"<attributes><key><fifths>{fifths}</fifths></key></attributes>"
    return f"{key}<direction><direction-type><words>{words}</words></direction-type></direction>"


@pytest.fixture
def concerto(tmp_path):
    """Two movements of two bars, the numbers begun again; in the second a key of its own."""
    bars = (
        bar(_head("Allegro", 0), SMALL, note("C5", 16), number="1"),
        bar(note("C5", 16), number="2"),
        bar(_head("Adagio", 1), SMALL, note("C5", 16), number="1"),
        bar(SMALL, note("C5", 16), number="2"),
    )
    low = [bar(note("C3", 16), number=number) for number in "1212"]
    file = tmp_path / "concerto.musicxml"
    file.write_text(text(part(*bars), part(*low, name="Cello")))
    return file


def _run(*words):
    done = CliRunner().invoke(cli, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_the_survey_lists_movements_first(concerto) -> None:
    """Each with its heading, bars, tempo and how many signs it has."""
    lines = _run("survey", concerto).splitlines()
    assert "2 movements" in lines[0]
    assert "  1  Allegro: 2 bars, 126 quarter notes a minute (assumed), 1 ornament" == lines[1]
    assert "  2  Adagio: 2 bars, 56 quarter notes a minute (assumed), 2 ornaments" == lines[2]


@pytest.mark.parametrize("named", ["2", "adagio"])
def test_places_of_a_movement_need_no_tilde(concerto, named) -> None:
    """Bars, places, tempo and title are the movement's."""
    told = json.loads(_run("survey", concerto, "--movement", named, "--json"))
    assert ["oboe.1.1", "oboe.2.1"] == [each["id"] for each in told["ornaments"]]
    assert (56, 2) == (told["score"]["tempo"]["qpm"], told["score"]["bars"])
    assert told["score"]["title"].endswith("2 Adagio")


def test_a_movement_keeps_what_the_file_said_before_it(concerto) -> None:
    """Divisions, meter and clef of earlier bars are in force."""
    whole, alone = (interpret(concerto, Wishes(movement=each)).score for each in (None, "2"))
    events = whole.parts[0].voices[0].events
    assert [each.duration_q for each in events[2:]] == [each.duration_q for each in alone.parts[0].voices[0].events]
    assert (1, whole.bars[3].meter) == (alone.parts[0].key_at(alone.bars[0].onset_q).fifths, alone.bars[1].meter)


@pytest.mark.parametrize(
    "words",
    [
        ["render", "{score}", "{folder}/out.mid"],
        ["notate", "{score}", "{folder}/out.musicxml"],
        ["notate", "{score}", "{folder}/out.musicxml", "--part"],
        ["practice", "{score}", "{folder}/out.mid"],
        ["styles", "{score}", "--compare", "oboe.2.1"],
        ["embellish", "{score}"],
        ["survey", "{score}", "--sheet", "{folder}/out.html"],
    ],
    ids=lambda words: words[0] + words[-1].lstrip("{}"),
)
def test_every_command_takes_a_movement(concerto, tmp_path, words) -> None:
    """The place it is asked for is that of the movement."""
    _run(*(word.format(score=concerto, folder=tmp_path) for word in words), "--movement", "adagio")


def test_a_written_movement_has_its_bars_only(concerto, tmp_path) -> None:
    """And says so in its title."""
    _run("notate", concerto, tmp_path / "out.musicxml", "--movement", "2")
    made = interpret(tmp_path / "out.musicxml").score
    assert (2, True) == (len(made.bars), made.title.endswith("2 Adagio"))


def test_beats_a_minute_need_a_movement(concerto, tmp_path) -> None:
    """A number would be the tempo of the first one, and of no other."""
    done = CliRunner().invoke(cli, ["render", str(concerto), str(tmp_path / "out.mid"), "--tempo", "72"])
    assert "1 Allegro, 2 Adagio" in str(done.exception)
    _run("render", concerto, tmp_path / "out.mid", "--tempo", "72", "--movement", "1")


def test_a_week_has_tracks_of_several_movements(concerto, tmp_path) -> None:
    """Every track may name its own."""
    week = tmp_path / "week.toml"
    week.write_text(
        f'score = "{concerto.name}"\nformats = ["mid"]\n[[track]]\nname = "{{movement}} whole"\nmovement = 1\n'
        '[[track]]\nname = "{movement} bar"\nmovement = "adagio"\nbars = "2"\n'
    )
    _run("practice", "--set", week)
    assert ["1 whole.mid", "adagio bar.mid", "index.json"] == sorted(
        each.name for each in (tmp_path / "week").iterdir()
    )
