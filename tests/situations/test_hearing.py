"""What is offered to be heard against a choice sounds otherwise."""

import pytest

from appui.compare.excerpts import readings_of
from appui.interpret.hearing import heard_as, worth_hearing
from appui.interpret.realizing import realize
from appui.page.record import readings_at
from appui.practice.change import changes_wished
from tests.situations.spelling import situation

C = "C3+E3+G3:4"


def _turned(note: str, fifths: int = 0):
    made = situation(f"C5:2 {note}:2!turn | C5:4", f"{C} | {C}", fifths=fifths)
    (sign,) = (sign for sign in made.signs if sign.kind == "turn")
    return made, sign


def test_a_lower_note_that_is_a_semitone_already_is_not_offered_raised() -> None:
    """B C D C is the same turn in both words."""
    made, sign = _turned("C5")
    assert "turn on the note with the lower note raised" in made.choices[sign.place].alternatives
    assert "turn on the note with the lower note raised" not in worth_hearing(made, sign)


def test_a_lower_note_a_whole_tone_away_is_offered_raised() -> None:
    """Where it makes a difference."""
    made, sign = _turned("D5")
    assert "turn on the note with the lower note raised" in worth_hearing(made, sign)


@pytest.mark.parametrize("note", ["C5", "D5", "G5"])
def test_no_two_ways_that_are_offered_sound_alike(note: str) -> None:
    """Neither like the choice nor like one another, on the page and in comparisons."""
    made, sign = _turned(note)
    for offered in (readings_at(made, sign, ()), readings_of(made, sign, ())):
        sounds = []
        for words in offered:
            tones = realize(made, made.order(repeats=False), {sign.place: made.reading(sign.place, words)}).tones[0]
            sounds.append({(tone.onset_q, tone.duration_q, tone.pitch, tone.level_db) for tone in tones})
        assert all(one not in sounds[:number] for number, one in enumerate(sounds))


def test_a_track_alternates_only_what_is_heard() -> None:
    """A tremolo so quick that measured and unmeasured are one has no rival."""
    made, sign = _turned("C5")
    (change,) = changes_wished(made, None, ())
    assert (sign.place, "turn after the note") == (change.place, change.second.text)


def test_ways_that_styles_put_in_other_words_are_offered_once() -> None:
    """Where a source says "upright" of the turn another one only calls a turn, there is one sound, and one offer."""
    made, sign = _turned("C5")
    ways = ["turn on the note", "turn on the note upright", "turn on the note with the lower note raised"]
    assert dict.fromkeys(ways, ways[0]) == heard_as(made, sign, ways)
    offered = readings_at(made, sign, ("bach-1753", "clementi-1801", "tuerk-1789", "hummel-1828"))
    heard = heard_as(made, sign, offered)
    assert len(offered) == len(set(heard.values()))
