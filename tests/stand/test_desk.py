"""Decisions: kept at once, one line of the plan; the plan on the disk is the truth."""

from pathlib import Path

import pytest

from appui.errors import PlaceError, PlanError, UsageError
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.stand.desk import Desk, by_the_rules
from appui.stand.shelf import Entry, Shelf


@pytest.fixture
def entry(shelf: Shelf) -> Entry:
    """The demo on the shelf."""
    return shelf.entries()[0]


def test_a_decision_is_in_the_plan_at_once(entry: Entry) -> None:
    """As every other command reads it."""
    opened = Desk().decide(entry, "oboe.4.1", "before")
    assert "before" == opened.interpretation.choices["oboe.4.1"].reading.text
    again = interpret(entry.path, Wishes(plan=entry.plan))
    assert ("before", True) == (again.choices["oboe.4.1"].reading.text, again.choices["oboe.4.1"].by.startswith("plan"))


def test_only_its_line_changes(entry: Entry) -> None:
    """What the player has written by hand stays, letter for letter."""
    desk = Desk()
    desk.decide(entry, "oboe.4.1", "before")
    text = entry.plan.read_text() + "# a word of mine\n"
    entry.plan.write_text(text)
    desk.decide(entry, "oboe.2.1", "short")
    old, new = text.split("\n"), entry.plan.read_text().split("\n")
    assert [('#"oboe.2.1" = "before"', '"oboe.2.1" = "short"')] == [
        each for each in zip(old, new, strict=True) if each[0] != each[1]
    ]


def test_to_the_rules_again(entry: Entry) -> None:
    """Then the line stands behind # with what the rules have."""
    desk = Desk()
    desk.decide(entry, "oboe.4.1", "before")
    opened = desk.decide(entry, "oboe.4.1", None)
    assert not opened.interpretation.choices["oboe.4.1"].by.startswith("plan")
    assert '#"oboe.4.1" = "leaning 1/2"' in entry.plan.read_text()


def test_an_edit_by_hand_is_seen(entry: Entry) -> None:
    """At the next look, with another version."""
    desk = Desk()
    before = desk.decide(entry, "oboe.4.1", "before")
    entry.plan.write_text(entry.plan.read_text().replace('"oboe.4.1" = "before"', '"oboe.4.1" = "leaning 1/3"'))
    after = desk.open(entry)
    assert "leaning 1/3" == after.interpretation.choices["oboe.4.1"].reading.text
    assert before.version != after.version


def test_nonsense_in_a_plan_is_told_and_nothing_is_written(entry: Entry) -> None:
    """The last plan that could be read goes on; the file stays as the player has left it."""
    desk = Desk()
    desk.decide(entry, "oboe.4.1", "before")
    entry.plan.write_text(entry.plan.read_text().replace('"before"', '"nonsense"'))
    text = entry.plan.read_text()
    opened = desk.open(entry)
    assert "nonsense" in opened.fault
    assert "before" == opened.interpretation.choices["oboe.4.1"].reading.text
    with pytest.raises(PlanError):
        desk.decide(entry, "oboe.2.1", "short")
    assert text == entry.plan.read_text()


def test_words_that_are_no_way_of_playing_change_nothing(entry: Entry) -> None:
    """Nor places that are not there."""
    desk = Desk()
    with pytest.raises(UsageError):
        desk.decide(entry, "oboe.4.1", "trill")
    with pytest.raises(PlaceError):
        desk.decide(entry, "oboe.99.1", "before")
    assert not entry.plan.exists()


def test_a_plan_for_another_score_is_told(entry: Entry) -> None:
    """It is not followed, and not touched."""
    entry.plan.write_text('[score]\nsha256 = "other"\ntitle = "Another"\n\n[readings]\n"oboe.2.1" = "short"\n')
    opened = Desk().open(entry)
    assert "another score" in opened.fault
    assert "before" == opened.interpretation.choices["oboe.2.1"].reading.text


def test_another_solo_makes_a_plan_that_says_so(entry: Entry) -> None:
    """Where nothing is decided yet."""
    desk = Desk()
    opened = desk.choose_solo(entry, "Violin", None)
    assert "Violin" == opened.interpretation.solo.name
    with pytest.raises(UsageError, match="says solo and style already"):
        desk.choose_solo(entry, "Oboe", None)


def test_the_rules_are_those_of_the_plans_own_style(entry: Entry) -> None:
    """To leave an ornament to the rules again is to leave it to the style the plan names."""
    desk = Desk()
    desk.choose_solo(entry, None, "clementi-1801")
    ruled = by_the_rules(desk.open(entry).interpretation)
    assert ("clementi-1801", None) == (ruled.style.name, ruled.plan)


def test_ten_pieces_are_kept_open(tmp_path: Path) -> None:
    """The one that was looked at longest ago is let go."""
    folder = tmp_path / "many"
    folder.mkdir()
    text = Path(__file__).parents[2].joinpath("src/appui/demo/ferry.musicxml").read_text()
    for number in range(12):
        (folder / f"{number:02}.musicxml").write_text(text)
    desk = Desk()
    for entry in Shelf(tmp_path / "own", [folder]).entries():
        desk.open(entry)
    assert 10 == desk.count
