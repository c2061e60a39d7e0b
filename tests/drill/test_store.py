"""Results on the disk: nothing lost, nothing twice, clear words where the file cannot be used."""

import csv
import io
import json
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.drill.store import (
    VERSION,
    Row,
    Store,
    default_path,
    rows_from_json,
    rows_to_csv,
    rows_to_json,
)
from appui.errors import StoreError

#  adds rows as quickly as it can, saying each number once it is kept
_WRITER = """
import sys
from pathlib import Path
from appui.drill.store import Row, Store
with Store.open(Path(sys.argv[1])) as store:
    for number in range(int(sys.argv[3])):
        store.add(Row("Ada", sys.argv[2], number, "", "heavier", 2.0, "dB", 0, 0, 3))
        print(number, flush=True)
"""


def writer(path: Path, sitting: str, count: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", _WRITER, str(path), sitting, str(count)], stdout=subprocess.PIPE, text=True
    )


def test_rows_come_back_in_order(store_path: Path, row) -> None:
    """What was kept is there in the next interpretation, as it was."""
    rows = [row(number, origin="Fähre, oboe.4.1") for number in range(3)]
    with Store.open(store_path) as store:
        for each in rows:
            store.add(each)
    with Store.open(store_path) as store:
        assert rows == store.rows()
        assert rows == store.rows("Ada", "heavier")
        assert [] == store.rows("Ada", "longer")
        assert ["Ada"] == store.players()


def test_the_default_place_is_in_the_players_data_folder() -> None:
    """One file, named for what it is."""
    assert ("appui", "drill.sqlite") == default_path().parts[-2:]


def test_a_killed_program_loses_no_answer_it_had_taken(store_path: Path) -> None:
    """Every row that was said to be kept is there after a kill, and the file is whole."""
    running = writer(store_path, "s1", 10**6)
    assert running.stdout is not None
    said = [int(running.stdout.readline()) for _ in range(20)]
    os.kill(running.pid, signal.SIGKILL)
    running.communicate()
    with Store.open(store_path) as store:
        kept = [each.number for each in store.rows()]
        assert said == kept[:20]
        store.add(Row("Ada", "s2", 0, "", "heavier", 2.0, "dB", 0, 0, 3))
    with sqlite3.connect(store_path) as link:
        assert ("ok",) == link.execute("PRAGMA integrity_check").fetchone()
    link.close()


def test_two_programs_at_once_keep_all_rows(store_path: Path) -> None:
    """Both make the file, both write 60 rows, none fails."""
    both = [writer(store_path, name, 60) for name in ("s1", "s2")]
    for running in both:
        running.communicate(timeout=60)
    assert [0, 0] == [running.returncode for running in both]
    with Store.open(store_path) as store:
        assert {("s1", n) for n in range(60)} | {("s2", n) for n in range(60)} == {
            (each.sitting, each.number) for each in store.rows()
        }


def test_a_newer_database_is_refused_and_left_as_it_is(store_path: Path, row) -> None:
    """Its rows may mean something else."""
    with Store.open(store_path) as store:
        store.add(row())
    with sqlite3.connect(store_path) as link:
        link.execute(f"PRAGMA user_version = {VERSION + 1}")
    link.close()
    before = store_path.read_bytes()
    with pytest.raises(StoreError, match=r"is of version 2; this appui knows versions up to 1.*install the newer"):
        open_once(store_path)
    assert before == store_path.read_bytes()


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write everything")
def test_a_folder_that_may_not_be_written_is_named(tmp_path: Path) -> None:
    """Permission is the player's to give."""
    tmp_path.chmod(0o500)
    with pytest.raises(StoreError, match="--store"):
        open_once(tmp_path / "deep" / "drill.sqlite")


def test_a_database_of_read_only_is_told(store_path: Path, row) -> None:
    """The refusal of SQLite itself, which root gets too."""
    with Store.open(store_path) as store:
        store._link.execute("PRAGMA query_only = ON")
        with pytest.raises(StoreError, match=r"may not be written.*--store"):
            store.add(row())


def test_a_full_disk_keeps_the_row_waiting(store_path: Path, row) -> None:
    """The answer is written with the next one, once there is room."""
    with Store.open(store_path) as store:
        store.add(row(0))
        (limit,) = store._link.execute("PRAGMA page_count").fetchone()
        store._link.execute(f"PRAGMA max_page_count = {limit}")
        with pytest.raises(StoreError, match=r"the disk is full.*free space"):
            store.take(row(number, origin="x" * 900) for number in range(1, 200))
        store.waiting.append(row(1))
        store._link.execute("PRAGMA max_page_count = 100000")
        store.add(row(2))
        assert [0, 1, 2] == [each.number for each in store.rows()]
        assert [] == store.waiting


def test_a_locked_database_is_waited_for_then_told(store_path: Path, row, monkeypatch) -> None:
    """Nobody waits for ever."""
    monkeypatch.setattr("appui.drill.store._WAIT_S", 0.05)
    with Store.open(store_path) as store:
        other = sqlite3.connect(store_path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        try:
            with pytest.raises(StoreError, match="is held by another program"):
                store.add(row())
        finally:
            other.execute("ROLLBACK")
            other.close()
        store.add(row(1))
        assert [0, 1] == [each.number for each in store.rows()]


@pytest.mark.parametrize(
    "content", [b"not a database at all, but long enough to be looked at", b"SQLite format 3\0" * 90]
)
def test_a_file_that_is_no_database_is_told_and_left(tmp_path: Path, content: bytes) -> None:
    """Somebody else's file is not overwritten."""
    path = tmp_path / "drill.sqlite"
    path.write_bytes(content)
    with pytest.raises(StoreError, match="--store"):
        open_once(path)
    assert content == path.read_bytes()


def test_a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    """No traceback for a slip."""
    with pytest.raises(StoreError, match="--store"):
        open_once(tmp_path)


def test_a_deleted_player_leaves_nothing_in_the_file(store_path: Path, row) -> None:
    """Neither rows nor letters of the name; others stay."""
    with Store.open(store_path) as store:
        for number in range(40):
            store.add(row(number, player="Zoroaster", origin="Zoroaster's own"))
        store.add(row(0, player="Ben"))
        assert 40 == store.delete("Zoroaster")
        assert ["Ben"] == store.players()
    left = b"".join(path.read_bytes() for path in store_path.parent.iterdir())
    assert b"Zoroaster" not in left


def test_the_same_export_is_taken_in_once(store_path: Path, row) -> None:
    """Sitting and number name a row."""
    rows = [row(number) for number in range(5)]
    with Store.open(store_path) as store:
        assert [5, 0] == [store.take(rows), store.take(rows)]


def test_a_clock_that_jumps_back_changes_no_order(store_path: Path, row) -> None:
    """Rows are ordered as they were kept."""
    with Store.open(store_path) as store:
        store.add(row(0, moment="2031-01-01T00:00:00+00:00"))
        store.add(row(1, moment="1999-01-01T00:00:00+00:00"))
        assert [0, 1] == [each.number for each in store.rows()]


_NAMES = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


@given(st.builds(Row, _NAMES, _NAMES, st.integers(0, 999), _NAMES, _NAMES, st.floats(0.01, 999), _NAMES,
                 st.integers(-1, 2), st.integers(0, 2), st.sampled_from([2, 3]), _NAMES, _NAMES))  # fmt: skip
def test_an_export_gives_back_the_same_rows(each: Row) -> None:
    """Whatever letters a name has."""
    assert [each] == rows_from_json(rows_to_json([each]), Path("a.json"))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"level": None}, "trial 1: level is None"),
        ({"level": -1.0}, "trial 1: its level or answers are out of range"),
        ({"level": float("nan")}, "trial 1: "),
        ({"given": 9}, "trial 1: its level or answers are out of range"),
        ({"player": 7}, "trial 1: player is 7"),
        ({"answer": True}, "trial 1: answer is True"),
        ({"origin": "x" * 2000}, "trial 1: origin is"),
        ({"number": 10**30}, "trial 1: number is"),
        ({"more": 1}, "trial 1: has more in it"),
    ],
)
def test_a_corrupted_export_is_refused_at_its_trial(change: dict[str, object], told: str, row) -> None:
    """None of it is taken, and the place is named."""
    record = json.loads(rows_to_json([row()]))
    record["trials"][0] |= change
    with pytest.raises(StoreError, match=f"a.json, {told}.*export it again"):
        rows_from_json(json.dumps(record), Path("a.json"))


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"format": "x"}', '{"format": "appui drill results"}', "[" * 99999]
)
def test_what_is_no_export_is_told(text: str) -> None:
    """Cut short, or another file."""
    with pytest.raises(StoreError, match=r"is no (JSON|export)"):
        rows_from_json(text, Path("a.json"))


def test_a_table_of_rows_says_whether_each_was_right(row) -> None:
    """CSV with a head; equal intervals are neither right nor wrong."""
    rows = [row(0), row(1, given=1), row(2, answer=-1)]
    table = list(csv.DictReader(io.StringIO(rows_to_csv(rows))))
    assert ["1", "0", ""] == [each["right"] for each in table]


def open_once(path: Path) -> None:
    with Store.open(path):
        pass


def test_programs_that_begin_at_once_all_open_a_new_file(tmp_path: Path) -> None:
    """SQLite lets one of them wait for nothing where all turn to its log at the same moment."""
    script = (
        "import os, sys, time\nfrom pathlib import Path\nfrom appui.drill.store import Store\n"
        "for number in range(25):\n"
        "    at, children = time.time() + 0.004, []\n"
        "    for _ in range(3):\n"
        "        child = os.fork()\n"
        "        if child == 0:\n"
        "            while time.time() < at:\n                pass\n"
        "            status = 1\n"
        "            try:\n"
        "                with Store.open(Path(sys.argv[1]) / f'{number}.sqlite') as store:\n"
        "                    status = len(store.rows())\n"
        "            finally:\n                os._exit(status)\n"
        "        children.append(child)\n"
        "    print(sum(os.waitpid(child, 0)[1] != 0 for child in children))\n"
    )
    env = dict(os.environ) | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run([sys.executable, "-c", script, tmp_path], env=env, capture_output=True, check=True, text=True)
    assert ["0"] * 25 == done.stdout.split()
