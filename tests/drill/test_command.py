"""The commands `drill` and `progress` as a player types them."""

import csv
import io
import json
import sqlite3
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner, Result
from lxml import etree

from appui.cli.main import cli
from appui.demo import demo_score, figured_sonata
from appui.drill.store import VERSION, Row, Store, rows_from_json
from appui.errors import AppuiError, PlaceError, SoundError, StoreError, UsageError


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Run a command in an empty folder, with a store of its own and no sound card; keys come as lines."""
    monkeypatch.chdir(tmp_path)

    def no_card(*_, **__):
        raise SoundError("sound card", "none could be opened", "plug one in")

    monkeypatch.setattr("appui.sound.live.open_card", no_card)

    def typed(*words: str, keys: str = "") -> Result:
        store = ["--store", "kept.sqlite"] if "--store" not in words else []
        return CliRunner().invoke(cli, [*words, *store], input="".join(f"{key}\n" for key in keys))

    return typed


def kept(path: Path | str = "kept.sqlite") -> list[Row]:
    with Store.open(Path(path)) as store:
        return store.rows()


def refused(result: Result, error: type[AppuiError], words: str) -> None:
    assert isinstance(result.exception, error), result.output
    assert words in str(result.exception)


# at the terminal


def test_a_sitting_without_a_sound_card(run) -> None:
    """Every trial is a file, every answer is kept and explained, the caution is said once."""
    result = run("drill", "lean-or-pass", "--seed", "a", "--trials", "4", keys="1212")
    assert 0 == result.exit_code, result.output
    assert 1 == result.output.count("start with the volume low")
    assert "none could be opened" in result.output
    assert 4 == len(kept()) == sum(f"appui-drill/1/trial-00{n}.wav" in result.output for n in (1, 2, 3, 4))
    assert 2 == soundfile.info("appui-drill/1/trial-001.wav").channels
    assert [0, 1, 0, 1] == [row.given for row in kept()]
    assert "the beat: " in result.output
    assert "4 trials are too few" in result.output


def test_what_was_missed_is_heard_again(run) -> None:
    """The right answer's file stands beside the trial's."""
    run("drill", "heavier", "--seed", "b", "--trials", "1", keys=f"{2 - first_right('b')}")
    assert Path("appui-drill/1/trial-001 again.wav").exists()
    once, both = (soundfile.info(f"appui-drill/1/trial-001{word}.wav").duration for word in (" again", ""))
    assert both == pytest.approx(2 * once + 0.8, abs=0.01)


def test_two_sittings_do_not_hear_one_another(run) -> None:
    """Each writes its trials into a folder of its own."""
    for seed in ("a", "b"):
        run("drill", "heavier", "--seed", seed, "--trials", "1", keys="1")
    assert {"1", "2"} == {folder.name for folder in Path("appui-drill").iterdir()}


def first_right(seed: str) -> int:
    from appui.drill.kinds import KINDS
    from appui.drill.trial import answers_of

    return answers_of(KINDS["heavier"], seed, 1)[0]


def test_stopping_keeps_what_was_done(run) -> None:
    """After two answers, by q; r and slips count for nothing."""
    result = run("drill", "which-reading", "--seed", "c", keys="3rx1q")
    assert 0 == result.exit_code
    assert [2, 0] == [row.given for row in kept()]
    assert "(keys: 1, 2, 3, r, q)" in result.output


def test_the_end_of_the_input_stops(run) -> None:
    """Nobody is asked for ever."""
    assert 0 == run("drill", "trill-start", keys="").exit_code
    assert [] == kept()


def test_through_a_sound_card(run, monkeypatch) -> None:
    """Trials are played as one performance, again by r after the answer, too; no file is written."""
    played = []

    @contextmanager
    def card(*_, **__):
        yield None

    monkeypatch.setattr("appui.drill.terminal.open_card", card)
    monkeypatch.setattr("appui.drill.terminal.play", lambda performance, *_: played.append(performance))
    result = run("drill", "longer", "--seed", "d", "--trials", "2", keys="1r 1 ")
    assert 0 == result.exit_code, result.output
    assert 3 <= len(played)
    assert 2 == len(kept())
    assert not Path("appui-drill").exists()
    assert {7} == {control.number for part in played[0].parts for control in part.controls}


def test_the_kind_drilled_least_lately_comes_next(run) -> None:
    """The first in the table that was never drilled."""
    run("drill", "lean-or-pass", "--trials", "1", keys="1")
    assert "heavier: In which" in run("drill", keys="q").output


def test_the_seed_asks_the_same_again(run) -> None:
    """Same music, same answers."""
    run("drill", "member-or-dissonance", "--seed", "e", "--trials", "2", keys="11")
    run("drill", "member-or-dissonance", "--seed", "e", "--trials", "2", keys="11")
    first, second, third, fourth = ((row.answer, row.origin, row.level) for row in kept())
    assert (first, second) == (third, fourth)


def test_places_of_the_demo(run) -> None:
    """The music is the demo's, by place."""
    run("drill", "lean-or-pass", "--from", "demo", "--trials", "1", keys="1")
    assert "oboe." in kept()[0].origin


def test_a_database_that_fills_up_loses_nothing(run, monkeypatch) -> None:
    """The answers are said to wait, and end in a file that can be taken in."""

    def full(self, rows):
        del rows
        raise StoreError(self.path, "cannot be written: the disk is full", "free space there")

    with monkeypatch.context() as patched:
        patched.setattr(Store, "take", full)
        result = run("drill", "lean-or-pass", "--trials", "2", keys="12")
    assert 0 == result.exit_code, result.output
    assert "not kept yet" in result.output
    (saved,) = Path().glob("appui-drill-*.json")
    assert "2 new answers taken in" in run("progress", "--import", str(saved)).output
    assert 2 == len(kept())


@pytest.mark.parametrize("name", ["", "  ", "x" * 61])
def test_a_player_has_a_name(run, name) -> None:
    """One that an export can carry."""
    refused(run("drill", "heavier", "--player", name), UsageError, "is no name")


def test_an_unknown_kind_is_refused_with_the_kinds(run) -> None:
    """A slip of the pen."""
    refused(run("drill", "heavyer"), UsageError, "kinds are lean-or-pass, heavier")


def test_a_score_without_places_is_refused(run) -> None:
    """What is missing, and what to do."""
    text = (
        Path(figured_sonata())
        .read_text(encoding="utf-8")
        .replace("<grace/>", "<cue/><duration>0</duration>")
        .replace("<trill-mark", "<turn")
    )
    Path("bare.musicxml").write_text(text, encoding="utf-8")
    refused(
        run("drill", "trill-start", "bare.musicxml"), PlaceError, "has no place for trill-start, which needs trills"
    )


def test_invented_phrases_that_stand_in_are_told(run) -> None:
    """Nothing is passed off as the player's own music."""
    from appui.drill.kinds import KINDS
    from appui.drill.places import usable
    from appui.drill.trial import Material
    from appui.interpret.interpretation import interpret

    kind = KINDS["member-or-dissonance"]
    leaning = [phrase for phrase in usable(interpret(demo_score()), kind) if not phrase.member]
    assert ["where 'it belongs' is right"] == Material(tuple(leaning)).lacks(kind)
    assert [] == Material().lacks(kind)


def test_page_and_sheet_exclude_one_another(run) -> None:
    """One after the other."""
    refused(run("drill", "heavier", "--page", "a.html", "--sheet", "b"), UsageError, "exclude one another")


# for a class


def test_a_sheet_for_a_class(run) -> None:
    """Numbered files, a sheet without answers, a key with them and with reasons."""
    assert 0 == run("drill", "which-reading", "--sheet", "class", "--trials", "3").exit_code
    assert ["01.wav", "02.wav", "03.wav", "answers.html", "key.csv", "key.html"] == sorted(
        path.name for path in Path("class").iterdir()
    )
    key = list(csv.DictReader(io.StringIO(Path("class/key.csv").read_text(encoding="utf-8"))))
    levels = [float(line["level"]) for line in key]
    assert levels == sorted(levels, reverse=True)
    reasons = Path("class/key.html").read_text(encoding="utf-8")
    assert all(line["right"] in reasons for line in key)
    assert "chord" not in Path("class/answers.html").read_text(encoding="utf-8")


# progress


def filled(name: str = "Ada", kind: str = "heavier") -> None:
    """Three sittings of a listener whose threshold falls, straight into the store."""
    from appui.drill.kinds import KINDS
    from appui.drill.staircase import Staircase

    ladder = KINDS[kind].ladder
    with Store.open(Path("kept.sqlite")) as store:
        for sitting, threshold in enumerate((5, 6, 7)):
            stairs = Staircase(ladder.rungs)
            rows: list[Row] = []
            while not stairs.done:
                right = stairs.rung < threshold or len(rows) % 2 == 0
                moment = f"2026-0{sitting + 1}-01T10:00:00+00:00"
                answer = len(rows) // 2 % 2
                given = answer if right else 1 - answer
                level = ladder.level(stairs.rung)
                rows.append(
                    Row(name, f"{name}{kind}{sitting}", len(rows), moment, kind, level, ladder.unit, answer, given, 3)
                )
                stairs.answer(right=right)
            store.take(rows)


def test_nothing_yet(run) -> None:
    """Where to begin, and where results will be."""
    assert "`appui drill` begins" in run("progress").output


def test_thresholds_in_a_table(run) -> None:
    """One line a sitting."""
    filled()
    lines = run("progress").output.splitlines()
    assert 3 == sum(line.startswith("Ada") and " dB " in line for line in lines)


def test_the_words_compare_with_the_sitting_before(run) -> None:
    """A sitting is held against the last one of its kind that had a threshold."""
    from appui.drill.results import best_before, results_of, said

    filled()
    results = results_of(kept())
    lines = said(results[-1], best_before(results[:-1], results[-1]))
    assert lines[0].startswith("You hear ")
    assert lines[1].startswith("Four weeks ago: ")


def test_a_clock_that_jumped_back_is_told_as_last_time(run) -> None:
    """No negative weeks."""
    from appui.drill.results import ago

    assert "last time" == ago("2031-01-01T00:00:00+00:00", "2026-01-01T00:00:00+00:00")
    assert "last time" == ago("no date", "2026-01-01T00:00:00+00:00")


def test_a_chart_of_thresholds(run) -> None:
    """A panel a kind, a dot a sitting, names escaped, the same bytes again, nothing fetched."""
    filled("Ada")
    filled("<Ben & co>", "longer")
    assert 0 == run("progress", "--out", "a.svg").exit_code
    # pygal's own finder of modules, of an older kind, would make every later import warn
    assert "PluginImportFixer" not in {type(finder).__name__ for finder in sys.meta_path}
    run("progress", "--out", "b.svg")
    text = Path("a.svg").read_text(encoding="utf-8")
    assert text == Path("b.svg").read_text(encoding="utf-8")
    tree = etree.fromstring(text.encode())
    assert 2 == len(tree.findall(".//{http://www.w3.org/2000/svg}svg"))
    assert 6 == text.count('class="dot reactive')
    assert "<script" not in text
    assert "&lt;Ben &amp; co&gt;" in text


@pytest.mark.parametrize("moment", ["2026-01-01T10:00:00+00:00", "0001-01-01T00:00:00", "9999-12-31T23:00:00Z", "soon"])
def test_one_sitting_is_drawn_whatever_its_clock_says(run, moment) -> None:
    """Its dot stands inside the panel."""
    from appui.drill.chart import WIDTH, chart
    from appui.drill.results import results_of

    filled()
    rows = [row._replace(moment=moment) for row in kept() if row.sitting.endswith("0")]
    (dot,) = etree.fromstring(chart(results_of(rows)).encode()).iterfind(
        ".//{*}circle[@class='dot reactive tooltip-trigger']"
    )
    assert 0 < float(dot.get("cx", "-1")) < WIDTH


def test_an_empty_chart_says_so(run) -> None:
    """It is a chart all the same."""
    run("progress", "--out", "a.svg")
    assert "No thresholds yet" in Path("a.svg").read_text(encoding="utf-8")


def test_every_answer_as_csv_and_json(run) -> None:
    """All rows, and the JSON goes in again elsewhere."""
    filled()
    run("progress", "--out", "a.csv")
    run("progress", "--out", "a.json")
    count = len(kept())
    assert count + 1 == len(Path("a.csv").read_text(encoding="utf-8").splitlines())
    assert count == len(rows_from_json(Path("a.json").read_text(encoding="utf-8"), Path("a.json")))
    assert f"{count} new answers" in run("progress", "--import", "a.json", "--store", "other.sqlite").output


def test_rows_of_another_kind_of_drill_are_refused(run) -> None:
    """None is taken in."""
    filled()
    run("progress", "--out", "a.json")
    record = json.loads(Path("a.json").read_text(encoding="utf-8"))
    record["trials"][4]["kind"] = "louder"
    Path("a.json").write_text(json.dumps(record), encoding="utf-8")
    result = run("progress", "--import", "a.json", "--store", "other.sqlite")
    refused(result, StoreError, "a.json, trial 5: kind 'louder'")
    assert [] == kept("other.sqlite")


def test_a_player_is_forgotten_after_asking(run) -> None:
    """No, then yes; others stay."""
    filled("Ada")
    filled("Ben")
    assert "nothing is deleted" in run("progress", "--delete", "--player", "Ada", keys="n").output
    assert "Gone: " in run("progress", "--delete", "--player", "Ada", keys="y").output
    assert {"Ben"} == {row.player for row in kept()}


def test_deleting_needs_a_name_that_is_there(run) -> None:
    """Nobody is forgotten by a slip."""
    refused(run("progress", "--delete"), UsageError, "--delete needs --player")
    filled("Ada")
    refused(run("progress", "--delete", "--player", "Bea"), UsageError, "players are Ada")


@pytest.mark.parametrize("command", [("progress",), ("drill", "heavier")])
def test_a_newer_database_is_refused(run, command) -> None:
    """Before anything is asked."""
    filled()
    with sqlite3.connect("kept.sqlite") as link:
        link.execute(f"PRAGMA user_version = {VERSION + 1}")
    link.close()
    refused(run(*command), StoreError, "install the newer appui")


def test_an_import_that_is_not_there(run) -> None:
    """The system's word, and what to name."""
    refused(run("progress", "--import", "gone.json"), StoreError, "name the file the page has saved")


def test_an_output_of_no_known_kind(run) -> None:
    """The suffixes are named."""
    refused(run("progress", "--out", "a.xlsx"), UsageError, "outputs end in .svg, .csv, .json")
