"""Many scores at once: what is done, what is told, what is kept."""

import json
import os
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from appui import demo
from appui.batch.collect import collect
from appui.batch.report import REPORT, Row, read_rows, table_text
from appui.batch.run import run_batch
from appui.batch.work import DOERS, run_job
from appui.cli.main import cli
from appui.errors import InputError, UsageError

DEMO = Path(demo.__file__).parent


@pytest.fixture(name="scores")
def _scores(tmp_path: Path) -> Path:
    """A folder with two good scores, one of them below, and one that is none."""
    folder = tmp_path / "scores"
    (folder / "below").mkdir(parents=True)
    shutil.copy((DEMO / "ferry.musicxml"), folder / "ferry.musicxml")
    shutil.copy((DEMO / "weir.musicxml"), folder / "below" / "weir.musicxml")
    (folder / "torn.musicxml").write_text("<score-partwise><part>", encoding="utf-8")
    return folder


def statuses(rows) -> dict[str, str]:
    """What became of each score."""
    return {row.score: row.status for row in rows}


WANTED = {"below/weir.musicxml": "done", "ferry.musicxml": "done", "torn.musicxml": "refused"}


def test_a_score_that_fails_stops_nothing(scores, tmp_path) -> None:
    """Its row says why; the others are done."""
    rows = run_batch(scores, tmp_path / "out", workers=1)
    assert WANTED == statuses(rows)
    assert "torn.musicxml" in rows[2].error
    assert json.loads((tmp_path / "out" / "below" / "weir.json").read_text(encoding="utf-8"))["ornaments"]


def test_an_error_of_the_program_stops_nothing(scores, tmp_path, monkeypatch) -> None:
    """Whatever goes wrong inside stands in the row as a fault."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("by nought")

    monkeypatch.setitem(DOERS, "survey", broken)
    rows = run_batch(scores, tmp_path / "out", workers=1)
    assert ["fault", "fault", "refused"] == [row.status for row in rows]
    assert "ZeroDivisionError: by nought" == rows[0].error


@pytest.mark.parametrize(
    ("what", "endings"), [("survey", {".json"}), ("render", {".mid"}), ("page", {".html"}), ("practice", {".flac"})]
)
def test_what_is_done(tmp_path, what, endings) -> None:
    """Each thing to do leaves its kind of file, and the report says how large it is."""
    folder = tmp_path / "scores"
    folder.mkdir()
    shutil.copy((DEMO / "weir.musicxml"), folder / "weir.musicxml")
    (row,) = run_batch(folder, tmp_path / "out", what=what, workers=1)
    assert "done" == row.status, row.error
    assert endings == {Path(name).suffix for name, _ in row.files}
    assert all((tmp_path / "out" / name).stat().st_size == size for name, size in row.files)


def test_a_second_run_does_only_what_is_missing_or_changed(scores, tmp_path) -> None:
    """Rows of the same work come back with their old times; a lost output and a changed score are done anew."""
    out = tmp_path / "out"
    first = {row.score: row for row in run_batch(scores, out, workers=1)}
    (out / "ferry.json").unlink()
    second = {row.score: row for row in run_batch(scores, out, workers=1)}
    assert first["below/weir.musicxml"] == second["below/weir.musicxml"]
    assert (out / "ferry.json").is_file()
    changed = (
        (scores / "below" / "weir.musicxml").read_text(encoding="utf-8").replace("<step>G</step>", "<step>A</step>")
    )
    (scores / "below" / "weir.musicxml").write_text(changed, encoding="utf-8")
    third = {row.score: row for row in run_batch(scores, out, workers=1)}
    assert second["below/weir.musicxml"].digest != third["below/weir.musicxml"].digest
    assert second["ferry.musicxml"] == third["ferry.musicxml"]


def test_a_torn_report_is_read_as_far_as_it_goes(scores, tmp_path) -> None:
    """A batch stopped in the middle of a line loses that line only."""
    run_batch(scores, tmp_path / "out", workers=1)
    report = tmp_path / "out" / REPORT
    report.write_bytes(report.read_bytes()[:-20])
    assert 2 == len(read_rows(tmp_path / "out"))


def test_several_styles_stand_side_by_side(scores, tmp_path) -> None:
    """A row and an output each, the style in the name."""
    rows = run_batch(scores, tmp_path / "out", styles=("harmony", "tartini-1750"), what="render", workers=1)
    assert 6 == len(rows)
    assert {"ferry.harmony.mid", "ferry.tartini-1750.mid"} == {path.name for path in (tmp_path / "out").glob("*.mid")}


def test_processes_and_one_alone_write_the_same(scores, tmp_path) -> None:
    """The number of jobs changes no byte of the outputs."""
    for jobs in (1, 2):
        run_batch(scores, tmp_path / f"out{jobs}", what="render", workers=jobs)
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / f"out{jobs}").rglob("*.mid")} for jobs in (1, 2))
    assert one == two
    assert len(one) == 2


def test_a_list_names_scores_from_its_own_folder(scores) -> None:
    """Comments and empty lines are none; a path out of the folder gets a name that stays inside."""
    listed = scores / "below" / "some.txt"
    listed.write_text("# two\n\nweir.musicxml\n../ferry.musicxml\n", encoding="utf-8")
    found = collect(listed)
    assert "weir.musicxml" == found[1].name
    assert found[0].name.startswith("elsewhere/")
    assert ".." not in found[0].stem


def test_scores_that_differ_in_suffix_alone_keep_it(tmp_path) -> None:
    """No output writes over another."""
    for name in ("a.xml", "a.mxl", "b.xml"):
        (tmp_path / name).write_text("", encoding="utf-8")
    assert ["a_mxl", "a_xml", "b"] == [found.stem for found in collect(tmp_path)]


@pytest.mark.parametrize("make", [lambda p: p.mkdir(), lambda p: p.write_bytes(b"\xff\xfe\0"), lambda p: None])
def test_nothing_to_do_is_said(tmp_path, make) -> None:
    """An empty folder, a list that is no text, nothing at all."""
    make(tmp_path / "source")
    with pytest.raises(InputError, match="source"):
        collect(tmp_path / "source")


def test_an_unknown_backend_is_said(scores, tmp_path) -> None:
    """The message names it."""
    with pytest.raises(UsageError, match="--on nowhere"):
        run_batch(scores, tmp_path / "out", backend="nowhere")


def test_a_process_that_dies_takes_nobody_along(scores, tmp_path, monkeypatch) -> None:
    """The score that killed its process has a row that says so; the others are done after all."""
    from appui.batch import run

    def deadly(job):
        return os._exit(1) if job.found.name == "torn.musicxml" else run_job(job)

    monkeypatch.setattr(run, "run_job", deadly)
    rows = run_batch(scores, tmp_path / "out", workers=2)
    assert WANTED | {"torn.musicxml": "fault"} == statuses(rows)
    assert "the process died" in rows[2].error


def test_the_command_prints_the_table(scores, tmp_path) -> None:
    """A line a score, totals below; the exit status is 0 as long as anything was done."""
    done = CliRunner().invoke(cli, ["batch", str(scores), str(tmp_path / "out"), "--jobs", "1"])
    assert (0, "3 scores: 2 done, 1 refused") == (done.exit_code, done.output.splitlines()[-1].split(";")[0])


def test_the_table_lines_up() -> None:
    """Columns under one another, errors on one line."""
    rows = [
        Row("a", "harmony", "survey", "done", 1.5, 12),
        Row("longer", "plain", "survey", "refused", error="no\nway"),
    ]
    assert [
        "score   style    seconds  ornaments",
        "a       harmony     1.50         12",
        "longer  plain       0.00          0  refused: no way",
        "",
        "2 scores: 1 done, 1 refused; 12 ornaments",
    ] == table_text(rows).splitlines()


def test_a_cluster_takes_the_work(scores, tmp_path) -> None:
    """A local Dask cluster of two workers, through joblib: the same outputs, no code of ours for it."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster),
    ):
        rows = run_batch(scores, tmp_path / "out", what="render", backend="dask")
    assert WANTED == statuses(rows)
    assert 2 == len(list((tmp_path / "out").rglob("*.mid")))
