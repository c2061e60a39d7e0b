"""Gathering one part: where small notes belong, how notes are counted, what is hung on them afterwards."""

from __future__ import annotations

import pytest

from appui.exact import Fraction
from appui.score.gather import Gatherer, Spot
from appui.score.model import Meter, Note, Ornament, SmallNote
from appui.score.pitch import Pitch
from appui.score.raw import RawEvent, RawPart

C5, D5 = Pitch("C", 0, 5), Pitch("D", 0, 5)


class Typed:
    """A part that is written event by event."""

    def __init__(self) -> None:
        self.gatherer = Gatherer(RawPart("P1", "Oboe"))
        self.at_q = Fraction(0)

    def bar(self) -> None:
        """The next bar."""
        if self.gatherer.part.bars:
            self.gatherer.end_bar()
        self.gatherer.begin_bar(str(len(self.gatherer.part.bars) + 1), Meter(4, 4))
        self.at_q = Fraction(0)

    def event(self, notes: int = 1, voice: str = "1") -> RawEvent:
        """A quarter note, a chord, or with no notes a rest."""
        start_q, self.at_q = self.at_q, self.at_q + 1
        made = RawEvent(
            self.gatherer.index, start_q, Fraction(1), self.at_q, voice, 1, 0, self.gatherer.count(notes), "quarter", 0,
            Fraction(1), frozenset(), frozenset(), None, (), (), (Note(C5, C5),) * notes, ((False, False),) * notes,
        )  # fmt: skip
        self.gatherer.add(made)
        return made

    def small(self, voice: str = "1") -> Spot:
        """A small note."""
        spot = Spot()
        self.gatherer.small(voice, SmallNote((D5,), (D5,), ordinal=self.gatherer.count()), [spot])
        return spot


@pytest.fixture(name="typed")
def _typed() -> Typed:
    """A part in its first bar."""
    found = Typed()
    found.bar()
    return found


def test_small_notes_belong_to_the_next_note_of_their_voice(typed: Typed) -> None:
    """Another voice between them changes nothing."""
    typed.event()
    spot = typed.small()
    typed.event(voice="2")
    main = typed.event()
    assert (main, "before", 0) == (spot.event, spot.side, spot.index)


@pytest.mark.parametrize("after", ["rest", "bar", "end"])
def test_small_notes_without_a_note_to_come_follow_the_one_before(typed: Typed, after: str) -> None:
    """Before a rest, at the end of the bar, at the end of the part."""
    main = typed.event()
    first, second = typed.small(), typed.small()
    if after == "rest":
        typed.event(0)
    elif after == "bar":
        typed.bar()
    typed.gatherer.end_bar()
    typed.gatherer.finish()
    assert [(main, "after", 0), (main, "after", 1)] == [(spot.event, spot.side, spot.index) for spot in (first, second)]


def test_small_notes_wait_over_a_barline_for_a_voice_that_has_not_begun(typed: Typed) -> None:
    """They stand before the barline, and nothing of their voice is there."""
    spot = typed.small()
    typed.bar()
    main = typed.event()
    assert (main, "before") == (spot.event, spot.side)


def test_small_notes_between_rests_are_left_out_and_said(typed: Typed) -> None:
    """They have nobody to belong to."""
    typed.event(0)
    spot = typed.small()
    typed.event(0)
    assert spot.event is None
    assert ["small notes stand between rests: left out"] == [notice.text for notice in typed.gatherer.part.notices]


def test_notes_are_counted_as_musicxml_writes_them(typed: Typed) -> None:
    """One a note of a chord, one a rest, one a small note."""
    first, chord = typed.event(), typed.event(3)
    small = typed.small()
    main, rest = typed.event(), typed.event(0)
    assert [0, 1, 5, 6] == [first.ordinal, chord.ordinal, main.ordinal, rest.ordinal]
    assert small.small() == main.before[0]
    assert 4 == main.before[0].ordinal


def test_what_is_hung_on_a_spot_is_on_its_note(typed: Typed) -> None:
    """On a chord's own note, on a small note; a rest takes none."""
    trill = Ornament("trill-mark")
    chord, small, rest = typed.event(2), typed.small(), typed.event(0)
    Spot(chord, "", 1).hang(trill)
    small.hang(trill)
    Spot(rest).hang(trill)
    assert [(), (trill,)] == [note.ornaments for note in chord.notes]
    assert (trill,) == chord.after[0].ornaments


def test_ties_of_a_chord_and_of_one_note(typed: Typed) -> None:
    """All of a chord, or the one that is named; a small note keeps its own."""
    chord, small = typed.event(2), typed.small()
    typed.gatherer.end_bar()
    Spot(chord, "", 1).tie(start=True)
    Spot(chord).tie(stop=True)
    small.tie(start=True)
    assert ((False, True), (True, True)) == chord.ties
    assert chord.after[0].tied_on


def test_a_slur_inside_a_group_is_the_groups_own(typed: Typed) -> None:
    """One that leaves it is the voice's."""
    small = typed.small()
    first, second = typed.event(), typed.event()
    small.slur_to(Spot(first), "1")
    assert ((), True) == (first.slur_starts, first.before[0].slur_start)
    small.slur_to(Spot(second), "2")
    assert (("2",), ("2",)) == (first.slur_starts, second.slur_stops)
