"""Lines of ABC music: lengths, pitches, chords, small notes, tuplets, slurs, ties, bars, voices.

Expected values follow the ABC standard 2.1 (memory) and are written out.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.score.model import Meter
from appui.score.pitch import Transposition
from tests.abc.abc_text import events, music, names, piece

Q = Fraction


def lengths(text: str) -> list[Fraction]:
    """How long the notes and rests of a line are."""
    return [event.duration_q for event in events(music(text))]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("c c2 c4 c/ c/2 c// c3/2 c3/ c/4", [Q(1, 2), 1, 2, Q(1, 4), Q(1, 4), Q(1, 8), Q(3, 4), Q(3, 4), Q(1, 8)]),
        ("z2 c2 x2 c2", [1, 1, 1]),
        ("c>d c<d", [Q(3, 4), Q(1, 4), Q(1, 4), Q(3, 4)]),
        ("c>>d c>>>d", [Q(7, 8), Q(1, 8), Q(15, 16), Q(1, 16)]),
        ("c > d", [Q(3, 4), Q(1, 4)]),
        ("a>(g f)", [Q(3, 4), Q(1, 4), Q(1, 2)]),
        ("c>{e}d", [Q(3, 4), Q(1, 4)]),
        ("[ce]>[df]", [Q(3, 4), Q(1, 4)]),
        ("(3cde (3c2d2e2", [Q(1, 3)] * 3 + [Q(2, 3)] * 3),
        ("(2cd (4cdef (5cdefg", [Q(3, 4)] * 2 + [Q(3, 8)] * 4 + [Q(1, 5)] * 5),
        ("(3::2 c2d z2", [Q(2, 3), Q(1, 3), 1]),
        ("(5:4:5 cdefg", [Q(2, 5)] * 5),
        ("(3{a}cde f", [Q(1, 3)] * 3 + [Q(1, 2)]),
        ("(3c>de", [Q(1, 2), Q(1, 6), Q(1, 3)]),
        ("[CEG]3 [C2E2G2] [C2E2]2", [Q(3, 2), 1, 2]),
    ],
)
def test_lengths(text: str, expected: list[Fraction]) -> None:
    """Multiples and divisions of the unit, dotted pairs, tuplets, chords: exact."""
    assert expected == lengths(text)


@pytest.mark.parametrize(
    ("meter", "text", "expected"),
    [("6/8", "(2cd", Q(3, 4)), ("6/8", "(5cdefg", Q(3, 10)), ("3/4", "(7cdefgab", Q(1, 7))],
)
def test_tuplets_go_by_the_meter(meter: str, text: str, expected: Fraction) -> None:
    """Five or seven take the time of three in a compound meter, of two elsewhere."""
    assert expected == events(piece(f"X:1\nM:{meter}\nL:1/8\nK:C\n{text}\n"))[0].duration_q


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("C c c' c'' C, C,,", ["C4", "C5", "C6", "C7", "C3", "C2"]),
        ("^c _d =e ^^f __g", ["C#5", "Db5", "E5", "F##5", "Gbb5"]),
        ("^/c _/d", ["C(+1/2)5", "D(-1/2)5"]),
        ("^c c C | c", ["C#5", "C#5", "C#4", "C5"]),
        ("^c =c c", ["C#5", "C5", "C5"]),
        ("^f8- | f8 | f8", ["F#5", "F#5", "F5"]),
        ("{^f}e f", ["E5", "F#5"]),
    ],
)
def test_pitches(text: str, expected: list[str]) -> None:
    """Octaves by case and marks; an accidental holds for its letter to the barline, and over it in a tie."""
    assert expected == names(music(text))


def test_accidentals_may_hold_in_their_octave_alone() -> None:
    """Where the file asks for it."""
    assert ["C#5", "C#5", "C4"] == names(piece("X:1\n%%propagate-accidentals octave\nK:C\n^c c C\n"))


@pytest.mark.parametrize(
    ("text", "small"),
    [
        ("{d}c", [("D5", False, "eighth")]),
        ("{/d}c", [("D5", True, "eighth")]),
        ("{d2}c", [("D5", False, "quarter")]),
        ("{d/e/}c", [("D5", False, "16th"), ("E5", False, "16th")]),
        ("({d}c)", [("D5", False, "eighth")]),
        ("T{de}c", [("D5", False, "eighth"), ("E5", False, "eighth")]),
    ],
)
def test_small_notes(text: str, small: list[tuple[str, bool, str]]) -> None:
    """With their stroke and the value they are typed with."""
    [event] = events(music(text))
    assert small == [(each.written[0].name, each.slash, each.type_name) for each in event.small_before]


def test_small_notes_after_a_note() -> None:
    """Before the barline they end their note."""
    first, second = events(music("TA8 {GA} | G8"))
    assert (["G4", "A4"], ()) == ([each.written[0].name for each in first.small_after], second.small_before)


def test_small_notes_with_signs_and_chords() -> None:
    """A small note may be trilled, slurred and a chord."""
    [event] = events(music("{T(d)[ce]}B2"))
    first, second = event.small_before
    assert (["trill-mark"], True) == ([each.kind for each in first.ornaments], first.slur_start)
    assert ["C5", "E5"] == [pitch.name for pitch in second.written]


def test_a_slur_over_small_note_and_note_leaves_its_neighbours_alone() -> None:
    """It is the small note's own."""
    first, second = events(music("A2 ({c}B2)"))
    assert (False, False, True) == (first.slur_on, second.slur_back, second.small_before[0].slur_start)


def test_slurs_nest_and_cross_barlines() -> None:
    """Each closing sign ends the slur opened last."""
    found = events(music("(c2 (d2 e2) f2 | g2) a2"))
    assert [True, True, True, True, False, False] == [event.slur_on for event in found]
    assert [False, True, True, True, True, False] == [event.slur_back for event in found]


def test_ties() -> None:
    """Of notes, over barlines, of whole chords and of one note of a chord."""
    found = events(music("c8- | c4 [ce]2-[ce]2 | [c-e]4 [ce]4"))
    assert [[True], [False], [True, True], [False, False], [True, False], [False, False]] == [
        [note.tied_on for note in event.notes] for event in found
    ]


def test_bars_are_numbered_as_printed() -> None:
    """A pickup is 0; the two halves of a bar cut by a repeat are one."""
    found = music("c2 | c8 | c6 :| |: c2 | c8 | c8 |]")
    assert ["0", "1", "2", "2", "3", "4"] == [bar.number for bar in found.bars]
    assert [True, False, False, True, False, False] == [bar.implicit for bar in found.bars]


@pytest.mark.parametrize(
    ("text", "forward", "backward"),
    [
        ("|: c8 | c8 :| c8 |]", [True, False, False], [0, 2, 0]),
        ("c8 :: c8 :|", [False, True], [2, 2]),
        ("c8 :|: c8 :|", [False, True], [2, 2]),
        ("|: c8 ::| c8 |]", [True, False], [3, 0]),
        ("c8 :||: c8 :|", [False, True], [2, 2]),
        ("[|: c8 :|] c8 [|]", [True, False], [2, 0]),
        ("c8 :|\n: c8 :|", [False, True], [2, 2]),
    ],
)
def test_repeats(text: str, forward: list[bool], backward: list[int]) -> None:
    """In all the ways they are typed."""
    bars = music(text).bars
    assert (forward, backward) == ([bar.repeat_forward for bar in bars], [bar.repeat_backward for bar in bars])


@pytest.mark.parametrize(
    ("text", "passes"),
    [
        ("|: c8 |1 c8 :|2 c8 || c8 |]", [(), (1,), (2,), ()]),
        ("|: c8 [1 c8 :| [2 c8 |] c8 |]", [(), (1,), (2,), ()]),
        ("|: c8 |1,3 c8 :|2 c8 |]", [(), (1, 3), (2,)]),
        ("|: c8 |1-3 c8 | c8 :|4 c8 |]", [(), (1, 2, 3), (1, 2, 3), (4,)]),
        ("|: c8 |1 c8 :|\n2 c8 |]", [(), (1,), (2,)]),
    ],
)
def test_endings(text: str, passes: list[tuple[int, ...]]) -> None:
    """From their number to the next thick barline."""
    assert passes == [tuple(p for ending in bar.endings for p in ending.passes) for bar in music(text).bars]


def test_rests_of_many_bars() -> None:
    """`Z3` is three bars."""
    found = music("c8 | Z3 | c8 |]")
    assert ["1", "2", "3", "4", "5"] == [bar.number for bar in found.bars]


def test_voices_by_line_and_inline() -> None:
    """Each goes on where it has left off."""
    head = 'X:1\nM:C\nL:1/4\nK:C\nV:1 name="Oboe"\nV:B clef=bass nm="Basso"\n'
    text = head + "[V:1] c4 | d4 |\n[V:B] C,4 | D,4 |\nV:1\ne4 |]\nV:B\nE,4 |]\n"
    found = piece(text)
    assert [("Oboe", ["C5", "D5", "E5"]), ("Basso", ["C3", "D3", "E3"])] == [
        (part.name, names(found, part.index)) for part in found.parts
    ]
    assert [Q(0), Q(4), Q(8)] == [event.onset_q for event in events(found, 1)]


def test_voices_inside_a_line() -> None:
    """The music of one line may change between voices."""
    found = piece("X:1\nL:1/4\nK:C\n[V:1] c4 | [V:2] C4 | [V:1] d4 |] [V:2] D4 |]\n")
    assert ["C5", "D5"] == names(found, 0)
    assert ["Part 1", "Part 2"] == [part.name for part in found.parts]


def test_a_bar_once_more_in_another_layer() -> None:
    """`&` goes back to the start of the bar."""
    found = music("c4 d4 & E8 | f8")
    assert [["C5", "D5", "F5"], ["E4"]] == [
        [event.notes[0].written.name for event in voice.events] for voice in found.parts[0].voices
    ]
    assert [Q(4), Q(4)] == [bar.length_q for bar in found.bars]


def test_fields_among_the_music() -> None:
    """Key, meter, unit and tempo change where they stand, in a line or on one of their own."""
    found = piece("X:1\nM:4/4\nL:1/4\nK:C\nf4 |[K:G] f2 [L:1/8] f4 |\nM:3/4\nQ:1/4=90\nf6 |[M:2/4] f4 |]\n")
    assert ["F5", "F#5", "F#5", "F#5", "F#5"] == names(found)
    assert [Meter(4, 4), Meter(4, 4), Meter(3, 4), Meter(2, 4)] == [bar.meter for bar in found.bars]
    assert [(Q(0), 0), (Q(4), 1)] == [(key.onset_q, key.fifths) for key in found.parts[0].keys]
    assert (Q(8), Q(90)) == (found.tempos[1].onset_q, found.tempos[1].qpm)


@pytest.mark.parametrize(
    ("clef", "transposition"),
    [
        ("transpose=-2", Transposition(-1, -2)),
        ("clef=treble-8", Transposition(-7, -12)),
        ("clef=bass", Transposition()),
        ("transpose=3", Transposition(2, 3)),
    ],
)
def test_voices_that_sound_elsewhere(clef: str, transposition: Transposition) -> None:
    """Letters are what is written."""
    found = piece(f"X:1\nK:C\nV:1 {clef}\nc8\n")
    assert transposition == found.parts[0].transposition_at(Q(0))
    assert "C5" == events(found)[0].notes[0].written.name


def test_an_octave_option_moves_the_letters() -> None:
    """They are written elsewhere, too."""
    assert ["C4"] == names(piece("X:1\nK:C octave=-1\nc8\n"))


def test_figures_under_a_bass() -> None:
    """Typed as words under the notes, as editions print them."""
    found = piece("X:1\nM:C\nL:1/4\nK:C\nV:1\nC2 D, G, | C4 |]\nw: 6 6/5 # | 7\n")
    assert [(Q(0), ["6"]), (Q(2), ["6", "5"]), (Q(3), ["sharp"]), (Q(4), ["7"])] == [
        (each.onset_q, [figure.number or figure.prefix for figure in each.figures]) for each in found.parts[0].figures
    ]


def test_comments_and_looks_say_nothing() -> None:
    """Remarks, spaces, signs of the layout."""
    assert ["C5", "D5", "E5"] == names(music("c y d `e $ % c d e\n% f\n"))


def test_a_blank_line_is_read_over() -> None:
    """With a notice; text that is no music after it is left out, with another."""
    found = music("c8 | d8 |\n\ne8 |]\n\nCollected by nobody")
    assert ["C5", "D5", "E5"] == names(found)
    assert ["a blank line ends a piece", "text after a blank line"] == [
        words
        for words in ("a blank line ends a piece", "text after a blank line")
        if any(words in n.text for n in found.notices)
    ]


def test_odd_bars_are_said() -> None:
    """Between plain barlines too much or too little is most likely a slip."""
    found = music("c8 | c6 | c8 | c8 |]")
    assert [("part Solo, line 6", "bar 2 has 3 beats of 1/4 where its meter has 4: check it")] == [
        tuple(notice) for notice in found.notices if "check it" in notice.text
    ]


LETTERS = st.sampled_from([letter + marks for letter in "ABCDEFGabcdefg" for marks in ("", ",", "'")])


@given(st.lists(st.tuples(LETTERS, st.integers(1, 16), st.integers(0, 3)), min_size=1, max_size=12))
def test_what_is_typed_adds_up(notes: list[tuple[str, int, int]]) -> None:
    """The onsets of a bar are the sums of the lengths before them, whatever they are."""
    found = events(music("".join(f"{letter}{number}{'/' * slashes} " for letter, number, slashes in notes)))
    at_q = Q(0)
    for event, (_, number, slashes) in zip(found, notes, strict=True):
        assert (at_q, Q(number, 2 * 2**slashes)) == (event.onset_q, event.duration_q)
        at_q = event.end_q
