"""The added part: spans of notes cut into values that can be printed."""

from hypothesis import given
from hypothesis import strategies as st

from appui.accompany.keyboard import Span, keyboard_part, printed_value, sounding_keys
from appui.exact import Fraction
from appui.score.pitch import Pitch
from tests.written import bar, note, part, score

C = (Pitch("C", 0, 4),)
THREE_BARS = score(part(*[bar(note("C5", 16))] * 3))
ENDS = st.lists(st.integers(0, 96).map(lambda eighths: Fraction(eighths, 8)), min_size=2, max_size=12, unique=True)


@given(ENDS)
def test_a_hand_is_full_and_its_notes_keep_their_time(moments: list[Fraction]) -> None:
    """Whatever is struck and held: no gap, no overlap, each note as long as its span, pieces of it tied."""
    spans = [Span(one, other, C) for one, other in zip(sorted(moments)[::2], sorted(moments)[1::2], strict=False)]
    events = keyboard_part(THREE_BARS, "organ", spans, [], source=THREE_BARS.parts[0]).voices[0].events
    assert 0 == events[0].onset_q
    assert [event.end_q for event in events] == [*(event.onset_q for event in events[1:]), 12]
    sounding = [event for event in events if event.notes]
    starts = [event.onset_q for event in sounding if not event.notes[0].tied_back]
    ends = [event.end_q for event in sounding if not event.notes[0].tied_on]
    assert [(span.onset_q, span.end_q) for span in spans] == list(zip(starts, ends, strict=True))


@given(ENDS)
def test_no_piece_crosses_a_barline_and_each_can_be_printed(moments: list[Fraction]) -> None:
    """Bars of four quarters."""
    spans = [Span(one, other, C) for one, other in zip(sorted(moments)[::2], sorted(moments)[1::2], strict=False)]
    for event in keyboard_part(THREE_BARS, "organ", spans, [], source=THREE_BARS.parts[0]).voices[0].events:
        assert event.onset_q // 4 == event.bar
        assert event.end_q <= 4 * (event.bar + 1)
        assert printed_value(event.duration_q) is not None


def test_keys_are_as_they_sound() -> None:
    """A clarinet in B flat writes D major where C major sounds."""
    before = "<key><fifths>2</fifths></key><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    assert [0] == [key.fifths for key in sounding_keys(score(part(bar(note("D5", 16)), before=before)))]
