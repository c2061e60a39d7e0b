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
from appui.listen.frames import FRAME_S, RATE
from appui.listen.keepsake import write_folder
from appui.listen.listen import Wanted, listen_samples
from appui.listen.picture import picture
from appui.listen.records import record
from appui.listen.report import differs, records_csv, summary, told
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


def test_several_takes_are_set_beside_one_another(midi, tmp_path) -> None:
    """A column a take instead of a table a take."""
    other = tmp_path / "again.mid"
    other.write_bytes(midi.read_bytes())
    done = CliRunner().invoke(cli, ["listen", str(demo_score()), str(midi), str(other), "--bars", BARS])
    assert 2 == done.stdout.count("places:")
    assert any("oboe.6.1" in line and 2 == line.count("on, 833") for line in done.stdout.splitlines())


def test_what_was_heard_is_kept_and_forgotten_with_the_results(midi, tmp_path) -> None:
    """`--player` keeps it, `progress` shows it, `progress --delete` takes it away."""
    store, name = ["--store", str(tmp_path / "kept.sqlite")], ["--player", "Ada"]
    CliRunner().invoke(cli, ["listen", str(demo_score()), str(midi), "--bars", BARS, *name, *store])
    assert "places:" in CliRunner().invoke(cli, ["progress", *name, *store]).stdout
    gone = CliRunner().invoke(cli, ["progress", *name, "--delete", "--yes", *store])
    assert 0 == gone.exit_code
    assert "places:" not in CliRunner().invoke(cli, ["progress", *store]).stdout
    assert b"take.mid" not in (tmp_path / "kept.sqlite").read_bytes()


def test_nothing_is_kept_unasked(midi, tmp_path) -> None:
    """Without a player's name no file of results is made."""
    store = tmp_path / "kept.sqlite"
    CliRunner().invoke(cli, ["listen", str(demo_score()), str(midi), "--bars", BARS, "--store", str(store)])
    assert not store.exists()


def test_a_take_is_heard_from_python(piece, midi) -> None:
    """`appui.open(score).listen(take)` gives what the command prints as JSON."""
    (heard,) = piece.listen(midi, BARS)
    place = next(each for each in heard["places"] if each["place"] == "oboe.6.1")
    assert ("on", 0.833) == (place["played"]["how"], round(place["played"]["length_s"], 3))


def test_a_trill_is_drawn_note_by_note(report) -> None:
    """A bar for each note that was heard, and no number cut off at the edge."""
    heard = next(each for each in report.places if each.trill is not None)
    drawn = etree.fromstring(picture(heard, "a trill", None, FRAME_S).encode())
    bars = [each for each in drawn.iter("{*}rect") if each.get("height") == "26"]
    assert len(heard.trill.starts_s) == len(bars)
    assert {"start", "middle", "end"} == {each.get("text-anchor") for each in drawn.iter("{*}text")} - {None}
