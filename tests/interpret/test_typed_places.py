"""Places as a player types them."""

import pytest

from appui.errors import PlaceError, UsageError
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.practice.change import changes_wished
from tests.written import bar, grace, note, part, text


@pytest.fixture
def player(tmp_path):
    """A clarinet with signs in bars 2, 5 and 9, and a bass."""
    names = "C5 D5 E5 F5 G5 A5 G5 F5 E5 D5 C5 B4".split()
    bars = [bar(*([grace("D5")] if n in (1, 4, 8) else []), note(name, 16)) for n, name in enumerate(names)]
    file = tmp_path / "score.musicxml"
    low = [bar(note("C3", 16)) for _ in names]
    file.write_text(text(part(*bars, name="B♭ Clarinet"), part(*low, name="Bassoon")))
    return interpret(file, Wishes(solo="1"))


@pytest.mark.parametrize("typed", ["5.1", "bb-clarinet.5.1", "clarinet.5.1", " BB-Clarinet.5.1 ", "bb.5.1"])
def test_bar_and_beat_are_enough(player, typed) -> None:
    """Of the solo; a part's name may be short."""
    assert "bb-clarinet.5.1" == player.sign_at(typed).place


@pytest.mark.parametrize("typed", ["8.1", "bb-clarinet.8.3", "flute.8.1"])
def test_a_wrong_place_names_the_nearest_in_the_music(player, typed) -> None:
    """The nearest first, whatever its name looks like."""
    with pytest.raises(PlaceError, match=r"near it: bb-clarinet\.9\.1, bb-clarinet\.5\.1"):
        player.sign_at(typed)


def test_a_bar_that_is_not_there_is_told(player) -> None:
    """With those that are, and the ornament next to it."""
    with pytest.raises(PlaceError, match=r"bar '40' is not there: its bars are 1 to 12; near it: bb-clarinet\.9\.1"):
        player.sign_at("40.1")


def test_a_reading_may_be_asked_for_at_a_bare_place(player) -> None:
    """As everywhere a place is typed."""
    assert "short" == player.reading("5.1", "short").text


def test_alternating_with_the_same_reading_is_refused(player) -> None:
    """What would be heard twice is said, with a reading that is another."""
    words = player.choices["bb-clarinet.5.1"].reading.text
    with pytest.raises(UsageError, match=r"already, so nothing would alternate; name another way; .* is another"):
        changes_wished(player, None, (f"5.1={words}",))
