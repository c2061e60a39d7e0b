"""The shelf: pieces found, dropped in, put away."""

from pathlib import Path

import pytest

from appui.errors import InputError, PlaceError, ScoreError, UsageError
from appui.stand.shelf import Shelf
from tests.stand.conftest import DEMO, Client


def test_pieces_of_folders_and_files_are_there(shelf: Shelf, scores: Path, tmp_path: Path) -> None:
    """Once each, though a file is named twice."""
    both = Shelf(tmp_path / "own", [scores, scores / "ferry.musicxml"])
    assert [entry.path.name for entry in both.entries()] == ["ferry.musicxml"]
    assert scores / "ferry-plan.toml" == shelf.entries()[0].plan


def test_what_is_dropped_in_lies_in_the_shelfs_own_folder(shelf: Shelf) -> None:
    """And the same score again is the piece that is there."""
    entry = shelf.add("My Concerto.musicxml", DEMO.read_bytes())
    assert ("My Concerto.musicxml", True) == (entry.path.name, entry.own)
    assert entry.id == shelf.add("again.musicxml", DEMO.read_bytes()).id


@pytest.mark.parametrize(
    "name", ["../../evil.musicxml", "..\\evil.musicxml", "/etc/evil.musicxml", "a\0b/evil.musicxml"]
)
def test_a_name_never_leads_out_of_the_folder(shelf: Shelf, name: str) -> None:
    """Only its last part counts."""
    entry = shelf.add(name, DEMO.read_bytes())
    assert (shelf.folder, "evil.musicxml") == (entry.path.parent, entry.path.name)


def test_a_file_that_is_no_score_is_refused_with_a_way_on(shelf: Shelf) -> None:
    """By its name, or by what is in it; nothing of it is kept."""
    with pytest.raises(UsageError, match="Export MusicXML"):
        shelf.add("scan.pdf", b"%PDF")
    with pytest.raises(ScoreError, match=r"broken\.musicxml"):
        shelf.add("broken.musicxml", b"<score-partwise><part-list>")
    assert not list(shelf.folder.glob("*"))


def test_putting_away_deletes_nothing(shelf: Shelf) -> None:
    """The score and its plan move together, twice under other names."""
    for words in ("one", "two"):
        entry = shelf.add("solo.musicxml", DEMO.read_bytes())
        entry.plan.write_text(words)
        away = shelf.put_away(entry.id)
    assert {"solo.musicxml", "solo-plan.toml", "solo 2.musicxml", "solo 2-plan.toml"} == {
        p.name for p in away.iterdir()
    }
    assert "two" == (away / "solo 2-plan.toml").read_text()


def test_scores_elsewhere_are_not_moved(shelf: Shelf) -> None:
    """What lies in a folder of the player's stays there."""
    with pytest.raises(UsageError, match="folder of yours"):
        shelf.put_away(shelf.entries()[0].id)


def test_a_number_that_is_none_is_refused(shelf: Shelf) -> None:
    """The browser names pieces by numbers the shelf has made, and by nothing else."""
    for piece in ("../ferry", "ferry.musicxml", ""):
        with pytest.raises(PlaceError):
            shelf.entry(piece)


def test_a_file_that_is_not_there_is_said_at_once(tmp_path: Path) -> None:
    """Before anything is served."""
    with pytest.raises(InputError, match="is not there"):
        Shelf(tmp_path, [tmp_path / "no.musicxml"])


def test_broken_files_say_why_and_stop_nothing(owner: Client, scores: Path) -> None:
    """The others are there as before."""
    (scores / "broken.musicxml").write_text("<score-partwise>")
    pieces = {piece["file"]: piece for piece in owner.get("/api/shelf").json()["pieces"]}
    assert "broken.musicxml" in pieces["broken.musicxml"]["fault"]
    assert 30 == pieces["ferry.musicxml"]["ornaments"]


def test_where_one_was_last_is_remembered(owner: Client, piece: str) -> None:
    """By piece."""
    owner.post(f"/api/pieces/{piece}/here", {"place": "oboe.4.1"})
    assert "oboe.4.1" == owner.get("/api/shelf").json()["pieces"][0]["last"]["place"]
