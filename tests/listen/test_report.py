import csv
import io
import json
from dataclasses import replace

import pytest
import soundfile
from click.testing import CliRunner
from lxml import etree

from appui.cli.main import cli
from appui.demo import demo_score
from appui.listen.keepsake import write_folder
from appui.listen.listen import Wanted, listen_samples
from appui.listen.report import differs, record, records_csv, summary, told
from appui.listen.take import RATE
from appui.sound.loudness import measure

BARS = "1-10"


@pytest.fixture(scope="module")
def other(piece, played):
    """The bars with one ornament played otherwise than decided, one left out."""
    take = played({"oboe.6.1": "before 90 ms", "oboe.5.2": "plain"})
    return listen_samples(piece.interpretation, take, "other", Wanted(BARS))


def test_what_differs_stands_first(other) -> None:
    """The placement before all else."""
    assert {"oboe.6.1", "oboe.5.2"} == {row.place for row in told(other)[:2]}
    assert "before the beat" in next(row for row in told(other) if row.place == "oboe.6.1").played


def test_what_is_as_decided_differs_nowhere(report) -> None:
    """A rendering of the decisions has nothing to remark on."""
    assert {0, -1} >= {differs(each) for each in report.places}


def test_the_summary_counts_every_place_once(other) -> None:
    """Differ, as decided, cannot be told."""
    numbers = [int(word) for word in summary(other).replace(",", "").split() if word.isdigit()]
    assert numbers[0] == sum(numbers[1:])


def test_the_record_is_json_without_nan(report) -> None:
    """What is not known is null."""
    text = json.dumps(record(report), allow_nan=False)
    places = json.loads(text)["places"]
    assert len(report.places) == len(places)
    assert {"reading", "placement", "length_s", "weight_db"} == set(places[0]["decided"])


def test_several_takes_stand_beside_one_another_in_a_table(report, other) -> None:
    """A row a place, three columns a take."""
    rows = list(csv.reader(io.StringIO(records_csv([report, other]))))
    row = next(each for each in rows if each[0] == "oboe.6.1")
    assert ("on", "before") == (row[3], row[6])


def test_a_folder_has_a_picture_and_two_sounds_equally_loud(piece, report, tmp_path) -> None:
    """What was played and what was decided, within a loudness unit."""
    one = replace(report, places=tuple(each for each in report.places if each.place.name == "oboe.6.1"))
    written = list(write_folder(piece.interpretation, [one], tmp_path / "kept"))
    assert ["oboe.6.1.svg", "oboe.6.1 played.wav", "oboe.6.1 decided.wav"] == [path.name for path in written]
    etree.parse(written[0])
    loud = [measure([soundfile.read(path, dtype="float32")[0]], RATE).lufs for path in written[1:]]
    assert loud[0] == pytest.approx(loud[1], abs=1)


def test_the_command_prints_a_table_and_json(midi) -> None:
    """`appui listen SCORE TAKE`."""
    done = CliRunner().invoke(cli, ["listen", str(demo_score()), str(midi), "--bars", BARS], catch_exceptions=False)
    assert 0 == done.exit_code
    assert "oboe.6.1" in done.stdout
    assert "not a mark" in done.stdout
    done = CliRunner().invoke(cli, ["listen", str(demo_score()), str(midi), "--bars", BARS, "--json"])
    assert 1 == len(json.loads(done.stdout)["takes"])
