"""Notes that an edition hides, to spell an ornament out."""

from appui.score.hidden import hidden_events, spelled_under, visible_under
from tests.written import backup, bar, note, part, score


def hidden(name: str, duration: int) -> str:
    """A note of a second voice that is not to be seen."""
    return note(name, duration, voice="2").replace("<note>", '<note print-object="no">', 1)


def two_voices(*second: str):
    """A half note C and another, over hidden notes that last as long as the first."""
    return score(part(bar(note("C5", 8), note("D5", 8), backup(16), *second))).parts[0]


def test_notes_are_hidden_where_none_of_the_event_is_seen() -> None:
    """By voice and event; rests do not count."""
    made = two_voices(hidden("D5", 4), hidden("C5", 4))
    assert [(1, 0), (1, 1)] == hidden_events(made)


def test_hidden_notes_that_stay_near_spell_the_ornament() -> None:
    """Two or more while the note lasts, within four steps."""
    made = two_voices(hidden("D5", 4), hidden("C5", 4))
    assert ((1, 0), (1, 1)) == spelled_under(made, hidden_events(made), (0, 0), made.voices[0].events[0].notes[0])


def test_hidden_notes_far_away_spell_nothing() -> None:
    """A hidden accompaniment two octaves down is none of the ornament's."""
    made = two_voices(hidden("D3", 4), hidden("C3", 4))
    assert () == spelled_under(made, hidden_events(made), (0, 0), made.voices[0].events[0].notes[0])


def test_one_hidden_note_spells_nothing() -> None:
    """An ornament has two notes at least."""
    made = two_voices(hidden("D5", 8))
    assert () == spelled_under(made, hidden_events(made), (0, 0), made.voices[0].events[0].notes[0])


def test_a_hidden_note_stands_over_the_visible_one_of_its_pitch() -> None:
    """At the same moment, in another voice."""
    made = two_voices(hidden("C5", 8), hidden("E5", 8))
    first, second = made.voices[1].events
    assert [(0, 0, 0)] == list(visible_under(made, 1, first, first.notes[0]))
    assert [] == list(visible_under(made, 1, second, second.notes[0]))
