"""Two ways of playing the same bars, joined: the first time one, the second time the other."""

from appui.exact import Fraction
from appui.perform.model import Control, Performance, PerformedNote, PerformedPart, TempoStep
from appui.practice.splice import spliced
from appui.score.pitch import Pitch
from appui.score.repeats import Occurrence
from appui.score.words import Role

Q = Fraction
C = Pitch("C", 0, 5)
#  one bar of four quarters, twice
TWICE = (Occurrence(0, Q(0), 1), Occurrence(0, Q(4), 2))


def note(at: str, length: str, key: int, role: Role = "plain") -> PerformedNote:
    """A note, at 60 quarters a minute."""
    onset, duration = Q(at), Q(length)
    return PerformedNote(onset, duration, float(onset), float(duration), C, key, 90, role)


def played(*notes: PerformedNote, lead: int = 0, controls: tuple[Control, ...] = ()) -> Performance:
    """These notes, after so many quarters of silence."""
    part = PerformedPart("P1", "Oboe", 68, notes, controls)
    steps = (TempoStep(Q(0), 0.0, Q(60)),)
    return Performance("made", (part,), steps, (), Q(8 + lead), 8.0 + lead, lead_q=Q(lead))


def told(made: Performance) -> list[tuple[float, float, int]]:
    """Onset, length in quarters, and key of each note."""
    return [(float(one.onset_q), float(one.duration_q), one.key) for one in made.parts[0].notes]


def test_the_second_time_is_the_other() -> None:
    """Bar by bar."""
    one, other = (played(note("0", "4", key), note("4", "4", key)) for key in (60, 70))
    assert [(0, 4, 60), (4, 4, 70)] == told(spliced(one, other, TWICE))


def test_a_small_note_goes_with_the_bar_it_leads_to() -> None:
    """The note before it gives way."""
    one = played(note("0", "4", 60), note("4", "4", 60))
    other = played(note("0", "15/4", 70), note("15/4", "1/4", 72, "before"), note("4", "4", 70))
    assert [(0, 3.75, 60), (3.75, 0.25, 72), (4, 4, 70)] == told(spliced(one, other, TWICE))


def test_a_note_tied_over_the_seam_keeps_its_length() -> None:
    """It is no slip of a small note."""
    one, other = played(note("0", "6", 60)), played(note("0", "4", 70), note("6", "2", 70))
    assert [(0, 6, 60), (6, 2, 70)] == told(spliced(one, other, TWICE))


def test_both_begin_with_the_longer_silence() -> None:
    """Where one has a small note before its first beat."""
    one, other = played(note("0", "4", 60), note("4", "4", 60)), played(note("1", "4", 70), note("5", "4", 70), lead=1)
    made = spliced(one, other, TWICE)
    assert [(1, 4, 60), (5, 4, 70)] == told(made)
    assert 1 == made.lead_q


def test_what_ends_with_a_bar_ends_there() -> None:
    """A control at the seam is the first one's, and the second's is there too."""
    one = played(note("0", "4", 60), controls=(Control(Q(4), 4.0, 11, 127),))
    other = played(note("4", "4", 70), controls=(Control(Q(3), 3.0, 11, 20), Control(Q(5), 5.0, 11, 40)))
    made = spliced(one, other, TWICE).parts[0].controls
    assert [(4.0, 127), (5.0, 40)] == [(each.onset_s, each.value) for each in made]
