"""One line of a plan changed, the others left alone."""

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from appui.plan.change import decided, embellished, undecided, unembellished

PLAN = """# mine
[score]
style = "harmony"

[readings]
# why
#"oboe.2.1" = "before"
'oboe.3.1' = "short"   # said by hand

[embellishments]
"oboe.5.1" = { over = "1/4", notes = "C5:1/4" }

[music]
"oboe.2.1" = "small notes|D5"
"""
PLACES = st.from_regex(r"[a-z]{1,6}\.[0-9]{1,2}\.[0-9]{1,2}", fullmatch=True)
WORDS = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=20)


def test_a_line_in_other_quotes_is_the_same_line() -> None:
    """However the player has written the place."""
    text = decided(PLAN, "oboe.3.1", "before")
    assert {"oboe.3.1": "before"} == tomllib.loads(text)["readings"]


def test_the_music_of_a_place_is_no_decision() -> None:
    """The same place stands in several tables; only [readings] decides."""
    text = decided(PLAN, "oboe.2.1", "short")
    assert "small notes|D5" == tomllib.loads(text)["music"]["oboe.2.1"]
    assert "short" == tomllib.loads(text)["readings"]["oboe.2.1"]


def test_a_plan_without_the_table_gets_it() -> None:
    """Before what comes after the readings, so that nothing falls into another table."""
    text = embellished('[score]\n\n[readings]\n"a.1.1" = "short"\n\n[music]\n"a.1.1" = "x"\n', "a.2.1", '"a.2.1" = 1')
    said = tomllib.loads(text)
    assert ({"a.2.1": 1}, {"a.1.1": "x"}) == (said["embellishments"], said["music"])


def test_an_embellishment_taken_away_stays_behind_its_sign() -> None:
    """It is not lost, and comes back in its place."""
    text = unembellished(PLAN, "oboe.5.1")
    assert '# "oboe.5.1" = { over = "1/4", notes = "C5:1/4" }' in text
    assert (
        "oboe.5.1"
        in tomllib.loads(embellished(text, "oboe.5.1", '"oboe.5.1" = { notes = "D5:1/4" }'))["embellishments"]
    )


@given(place=PLACES, words=WORDS)
def test_a_decision_is_read_back_and_nothing_else_changes(place: str, words: str) -> None:
    """Whatever place and words, all other entries of the plan are as they were."""
    before, after = tomllib.loads(PLAN), tomllib.loads(decided(PLAN, place, words))
    assert words == after["readings"].pop(place)
    before["readings"].pop(place, None)
    assert before == after


@given(place=PLACES, words=WORDS)
def test_undone_it_is_as_if_it_had_not_been(place: str, words: str) -> None:
    """To leave it to the rules again leaves no entry."""
    after = tomllib.loads(undecided(decided(PLAN, place, words), place, "short"))
    before = tomllib.loads(PLAN)
    before["readings"].pop(place, None)
    assert before == after


@given(place=PLACES, words=WORDS)
def test_to_decide_twice_is_to_decide_once(place: str, words: str) -> None:
    """The second time changes nothing."""
    once = decided(PLAN, place, words)
    assert once == decided(once, place, words)
