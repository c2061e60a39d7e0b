"""Odd files: read on where a player would, said once; refused with part, bar and line where nothing can be meant."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.score.model import Score
from appui.score.pitch import Pitch, Transposition
from appui.score.signs import bar_names, beat_name, find_signs
from appui.score.solo import guess_solo
from tests.written import backup, bar, direction, events, forward, grace, meter, note, part, score, text

FOUR = [note(name, 4) for name in ("C5", "D5", "E5", "F5")]
HALF = Fraction(1, 2)


def _notices(found: Score, words: str) -> list[str]:
    return [str(notice.place) for notice in found.notices if words in notice.text]


def _onsets(found: Score, voice: int = 0, part_index: int = 0) -> list[Fraction]:
    return [event.onset_q for event in events(found, part_index)[voice]]


# bars


def test_bar_numbers_are_kept_as_printed() -> None:
    """A bar number need not be a number."""
    found = score(part(bar(*FOUR, number="12a"), bar(*FOUR, number="X1"), bar(*FOUR, number="13")))
    assert ("12a", "X1", "13") == found.parts[0].bar_numbers == tuple(b.number for b in found.bars)


def test_a_bar_number_printed_twice_is_told_apart() -> None:
    """Where a second movement counts from 1 again, its bars carry their count."""
    found = score(part(bar(*FOUR, number="1"), bar(*FOUR, number="2"), bar(*FOUR, number="1")))
    assert ("1", "2", "1~2") == bar_names(found)


def test_a_bar_number_that_is_no_number_printed_twice_is_told_apart() -> None:
    """Names of bars are counted as numbers are."""
    found = score(part(*(bar(*FOUR, number=number) for number in ("X1", "12a", "X1", "X1"))))
    assert ("X1", "12a", "X1~2", "X1~3") == bar_names(found)


def test_places_of_signs_are_unique_under_one_number() -> None:
    """Signs at the same beat of two bars of one number have two names."""
    bars = [bar(grace("D5"), *FOUR, number="7") for _ in range(3)]
    assert ["oboe.7.1", "oboe.7~2.1", "oboe.7~3.1"] == [sign.place for sign in find_signs(score(part(*bars)))]


def test_an_overfull_bar_pushes_the_next() -> None:
    """Five quarters in a 4/4 bar are five quarters long."""
    found = score(part(bar(meter(4, 4), *FOUR, note("G5", 4)), bar(*FOUR)))
    assert 5 == found.bars[0].length_q == found.bars[1].onset_q


def test_a_short_bar_ends_early() -> None:
    """Three quarters in a 4/4 bar are three quarters long."""
    found = score(part(bar(meter(4, 4), *FOUR[:3]), bar(*FOUR)))
    assert 3 == found.bars[0].length_q == found.bars[1].onset_q


def test_a_bar_short_in_one_part_is_as_long_as_the_other() -> None:
    """All parts start a bar together, whatever one of them lacks."""
    found = score(part(bar(*FOUR[:2]), bar(*FOUR)), part(bar(*FOUR), bar(*FOUR), name="Cello"))
    assert 4 == found.bars[1].onset_q == _onsets(found)[2] == _onsets(found, part_index=1)[4]


def test_a_rounding_slip_is_cut_at_the_barline() -> None:
    """A bar too long by no plain fraction keeps its meter, and the cut is said."""
    found = score(part(bar(meter(2, 4), note("C5", 4), note("D5", "4.03")), bar(*FOUR[:2])))
    assert 2 == found.bars[0].length_q
    assert 1 == events(found)[0][1].duration_q
    assert ["part Oboe, bar 1, line 7"] == _notices(found, "rounding slip")


def test_a_bar_without_notes_is_as_long_as_its_meter() -> None:
    """An empty bar still counts."""
    found = score(part(bar(meter(3, 4)), bar(*FOUR[:3])))
    assert 3 == found.bars[1].onset_q


def test_a_part_that_ends_early_is_silent_and_said() -> None:
    """Parts of unequal length are read, and the shorter is named."""
    found = score(part(bar(*FOUR), bar(*FOUR), name="Cello"), part(bar(*FOUR)))
    assert 2 == len(found.bars)
    assert 8 == found.length_q
    assert ["part Oboe"] == _notices(found, "has 1 bars where another part has 2")


@pytest.mark.parametrize(
    ("beats", "kind", "upbeat", "name"),
    [(3, 4, 4, "3"), (4, 4, 4, "4"), (2, 4, 2, "2+1/2"), (6, 8, 2, "2+2/3"), (3, 4, 8, "2"), (4, 4, 1, "4+3/4")],
)
def test_an_upbeat_is_counted_from_the_barline(beats: int, kind: int, upbeat: int, name: str) -> None:
    """The upbeat quarter of a piece in 3/4 is beat 3."""
    found = score(part(bar(meter(beats, kind), note("G4", upbeat), number="0", implicit=True), bar(*FOUR)))
    assert found.bars[0].pickup
    assert name == beat_name(found.bars[0], Fraction(0))


def test_a_later_short_bar_is_no_upbeat() -> None:
    """A counted bar that is short in the middle of a piece is counted from its own start."""
    found = score(part(bar(meter(3, 4), *FOUR[:3]), bar(note("G4", 4)), bar(*FOUR[:3])))
    assert (False, "1") == (found.bars[1].pickup, beat_name(found.bars[1], Fraction(0)))


# the cursor and voices


def test_backup_beyond_the_bar_reads_from_its_start() -> None:
    """No note falls before its bar, and the slip is said."""
    found = score(part(bar(*FOUR), bar(*FOUR[:2], backup(12), note("C4", 8, voice="2"))))
    assert [4] == _onsets(found, voice=1)
    assert 1 == len(_notices(found, "goes back beyond the start of the bar"))


def test_a_voice_that_overlaps_itself_is_split() -> None:
    """Both notes are kept, in two voices that do not overlap, and the split is said."""
    found = score(part(bar(note("C5", 16), backup(12), note("E5", 4), note("F5", 8))))
    assert [["C5"], ["E5", "F5"]] == [[e.notes[0].written.name for e in voice] for voice in events(found)]
    assert ["1", "1+1"] == [voice.name for voice in found.parts[0].voices]
    assert 1 == len(_notices(found, "voice 1 overlaps itself: read as 2 voices"))


def test_forward_leaves_a_gap() -> None:
    """What the cursor passes over is silence."""
    assert [0, 2] == _onsets(score(part(bar(FOUR[0], forward(4), FOUR[1]))))


def test_divisions_may_change_inside_a_bar() -> None:
    """Durations after the change are counted in the new divisions, the position is kept."""
    found = score(part(bar(FOUR[0], "<attributes><divisions>8</divisions></attributes>", note("D5", 8), FOUR[2])))
    assert [0, 1, 2] == [e.onset_q for e in events(found)[0]]
    assert [1, 1, HALF] == [e.duration_q for e in events(found)[0]]


def test_a_note_of_no_length_is_left_out() -> None:
    """A full-size note that lasts no time is dropped and said."""
    found = score(part(bar(*FOUR, note("G5", 0))))
    assert 4 == len(events(found)[0])
    assert 1 == len(_notices(found, "a note of no length"))


def test_a_chord_is_one_event() -> None:
    """Notes marked as of one chord share their time; the cursor moves once."""
    found = score(part(bar(note("C5", 4), note("E5", 4, "<chord/>"), note("D5", 4))))
    assert [2, 1] == [len(event.notes) for event in events(found)[0]]
    assert [0, 1] == _onsets(found)


_step = st.one_of(
    st.builds(note, st.sampled_from(["C5", "Eb5", "rest"]), st.integers(0, 9), voice=st.sampled_from("123")),
    st.builds(note, st.just("G5"), st.integers(1, 9), st.just("<chord/>")),
    st.builds(grace, st.sampled_from(["D5", "F#5"]), voice=st.sampled_from("123")),
    st.builds(backup, st.integers(1, 20)),
    st.builds(forward, st.integers(1, 9)),
)


@given(st.lists(st.lists(_step, max_size=8), min_size=1, max_size=4))
def test_voices_never_overlap(bars: list[list[str]]) -> None:
    """Whatever the order of notes and cursor moves, voices are sorted, disjoint and inside the score."""
    found = score(part(*(bar(*content) for content in bars)))
    for voice in events(found):
        for before, after in pairwise(voice):
            assert before.end_q <= after.onset_q
        assert all(0 <= event.onset_q < event.end_q <= found.length_q for event in voice)


@given(st.lists(st.lists(_step, max_size=8), min_size=1, max_size=4))
def test_no_full_size_note_is_lost(bars: list[list[str]]) -> None:
    """Every full-size note of some length is in some voice."""
    page = text(part(*(bar(*content) for content in bars)))
    root = parse_text(page.encode(), "page").root
    written = [n for n in root.iter("note") if n.find("grace") is None and n.find("pitch") is not None]
    alone = [n for n in written if n.find("chord") is None and n.findtext("duration") != "0"]
    found = [n for voice in events(score_of(root, "page")) for event in voice for n in event.notes]
    assert len(alone) <= len(found) <= len(written)


# small notes


def test_small_notes_belong_to_the_next_note_of_their_voice() -> None:
    """Two small notes stand before the note they precede, in printed order."""
    found = score(part(bar(FOUR[0], grace("F5"), grace("E5"), FOUR[1])))
    assert ["F5", "E5"] == [small.written[0].name for small in events(found)[0][1].small_before]


def test_small_notes_at_the_end_of_a_bar_are_after_notes() -> None:
    """With no note of their voice after them in the bar they follow the last one, though a bar follows."""
    found = score(part(bar(*FOUR, grace("E5"), grace("F5")), bar(*FOUR)))
    assert ["E5", "F5"] == [small.written[0].name for small in events(found)[0][3].small_after]
    assert [("after-notes", "oboe.1.4")] == [(sign.kind, sign.place) for sign in find_signs(found)]


def test_small_notes_before_a_rest_are_after_notes() -> None:
    """A rest has nothing to lean on: the small notes follow the note before it."""
    found = score(part(bar(FOUR[0], grace("D5"), note("rest", 4), *FOUR[2:])))
    assert [1, 0] == [len(event.small_after) for event in events(found)[0][:2]]


def test_small_notes_between_rests_are_left_out_and_said() -> None:
    """Small notes with no note on either side belong to nothing."""
    found = score(part(bar(note("rest", 4), grace("D5"), note("rest", 4), *FOUR[2:])))
    assert () == find_signs(found)
    assert 1 == len(_notices(found, "small notes"))


def test_small_notes_of_another_voice_wait_for_their_own() -> None:
    """A small note of the second voice does not go to a note of the first."""
    found = score(part(bar(*FOUR, backup(16), grace("B4", voice="2"), note("A4", 16, voice="2"))))
    assert [0, 1] == [len(voice[0].small_before) for voice in events(found)]


def test_small_notes_of_one_chord_are_one_small_note() -> None:
    """Small notes on one stem sound together."""
    found = score(part(bar(grace("E5"), grace("G5", "<chord/>"), *FOUR)))
    assert [("E5", "G5")] == [tuple(p.name for p in small.written) for small in events(found)[0][0].small_before]


def test_hidden_small_notes_are_no_signs() -> None:
    """What is not printed is not the player's to realize; what is printed beside it stays."""
    found = score(part(bar(grace("D5", hidden=True), FOUR[0], grace("E5"), *FOUR[1:])))
    assert ["oboe.1.2"] == [sign.place for sign in find_signs(found)]


def test_the_slash_is_kept_as_printed() -> None:
    """Crossed, uncrossed and not said are three things."""
    crossed = [grace("D5").replace("<grace/>", f"<grace{slash}/>") for slash in (' slash="yes"', ' slash="no"', "")]
    found = score(part(bar(*crossed, *FOUR)))
    assert [True, False, None] == [small.slash for small in events(found)[0][0].small_before]


# ties, slurs, hairpins


def _notations(inside: str) -> str:
    return f"<notations>{inside}</notations>"


def test_a_closed_tie_joins_two_notes() -> None:
    """A tie across the barline leads on from one note and back to it from the next."""
    start, stop = note("C5", 16, '<tie type="start"/>'), note("C5", 16, '<tie type="stop"/>')
    first, second = events(score(part(bar(start), bar(stop))))[0]
    assert (True, False) == (first.notes[0].tied_on, first.notes[0].tied_back)
    assert (False, True) == (second.notes[0].tied_on, second.notes[0].tied_back)


@pytest.mark.parametrize("after", [note("D5", 4), note("C5", 4), note("C6", 4, '<tie type="stop"/>'), ""])
def test_a_tie_to_nothing_is_left_out_and_said_once(after: str) -> None:
    """Ties that never reach a note of their pitch are dropped, one notice for the part."""
    loose = note("C5", 4, '<tie type="start"/>')
    found = score(part(bar(loose, after), bar(loose, after)))
    assert not any(n.tied_on for e in events(found)[0] for n in e.notes)
    assert 1 == len(_notices(found, "a tie leads to no note of its pitch"))


def test_a_slur_reaches_over_its_notes() -> None:
    """A slur leads on from all its notes but the last."""
    first, last = _notations('<slur type="start"/>'), _notations('<slur type="stop"/>')
    found = score(part(bar(note("C5", 4, first), FOUR[1], note("E5", 4, last), FOUR[3])))
    assert [True, True, False, False] == [event.slur_on for event in events(found)[0]]
    assert [False, True, True, False] == [event.slur_back for event in events(found)[0]]


def test_a_slur_from_a_small_note_ends_at_its_main_note() -> None:
    """The slur that binds a small note to its own note joins no full-size notes, and nothing is said."""
    small = grace("D5", _notations('<slur type="start" number="1"/>'))
    found = score(part(bar(small, note("C5", 4, _notations('<slur type="stop" number="1"/>')), *FOUR[1:])))
    assert not any(event.slur_on or event.slur_back for event in events(found)[0])
    assert (True, []) == (events(found)[0][0].small_before[0].slur_start, _notices(found, "slur"))


def test_a_slur_of_the_main_note_goes_on_beside_the_small_notes() -> None:
    """Where the main note ends the small note's slur and begins one of the same number, its own reaches on."""
    small = grace("D5", _notations('<slur type="start" number="1"/>'))
    both = _notations('<slur type="stop" number="1"/><slur type="start" number="1"/>')
    last = _notations('<slur type="stop" number="1"/>')
    found = score(part(bar(small, note("C5", 4, both), FOUR[1], note("E5", 4, last), FOUR[3])))
    assert [True, True, False, False] == [event.slur_on for event in events(found)[0]]
    assert [False, True, True, False] == [event.slur_back for event in events(found)[0]]


def test_a_slur_from_a_small_note_may_lead_further() -> None:
    """A slur that begins on a small note and ends on a later note begins on the main note."""
    small = grace("D5", _notations('<slur type="start" number="1"/>'))
    last = _notations('<slur type="stop" number="1"/>')
    found = score(part(bar(FOUR[0], small, FOUR[1], note("E5", 4, last), FOUR[3])))
    assert [False, True, False, False] == [event.slur_on for event in events(found)[0]]


@pytest.mark.parametrize(
    ("kind", "words"), [("start", "a slur begins and never ends"), ("stop", "a slur ends that never began")]
)
def test_half_a_slur_is_left_out_and_said_once(kind: str, words: str) -> None:
    """A slur with one end joins nothing, one notice for the part."""
    half = note("C5", 4, _notations(f'<slur type="{kind}"/>'))
    found = score(part(bar(half, *FOUR[1:]), bar(half, *FOUR[1:])))
    assert not any(event.slur_on or event.slur_back for event in events(found)[0])
    assert 1 == len(_notices(found, words))


def test_a_hairpin_has_two_ends() -> None:
    """A hairpin reaches from where it opens to where it stops."""
    found = score(
        part(bar(FOUR[0], direction('<wedge type="crescendo"/>'), *FOUR[1:], direction('<wedge type="stop"/>')))
    )
    (hairpin,) = found.parts[0].hairpins
    assert "crescendo" == hairpin.kind
    assert [1, 4] == [hairpin.onset_q, hairpin.end_q]


@pytest.mark.parametrize(
    ("kind", "words"), [("diminuendo", "a hairpin begins and never ends"), ("stop", "a hairpin ends that never began")]
)
def test_half_a_hairpin_is_left_out_and_said_once(kind: str, words: str) -> None:
    """A hairpin with one end changes nothing, one notice for the part."""
    half = direction(f'<wedge type="{kind}"/>')
    found = score(part(bar(half, *FOUR), bar(half, *FOUR)))
    assert () == found.parts[0].hairpins
    assert 1 == len(_notices(found, words))


# the whole page


def test_timewise_is_read_as_partwise() -> None:
    """The same music by bars or by parts is the same score."""
    partwise = score(part(bar(*FOUR), bar(*FOUR[:2])), part(bar(note("C3", 16)), bar(note("D3", 8)), name="Cello"))
    head = (
        text(part(bar(*FOUR)), part(bar(*FOUR), name="Cello")).split("</part-list>")[0].replace("partwise", "timewise")
    )
    divisions = "<attributes><divisions>4</divisions></attributes>"
    body = (
        f'<measure number="1"><part id="P1">{divisions}{"".join(FOUR)}</part>'
        f'<part id="P2">{divisions}{note("C3", 16)}</part></measure>'
        f'<measure number="2"><part id="P1">{"".join(FOUR[:2])}</part><part id="P2">{note("D3", 8)}</part></measure>'
    )
    page = f"{head}</part-list>{body}</score-timewise>"
    timewise = score_of(parse_text(page.encode(), "page.musicxml").root, "page.musicxml")
    assert partwise.bars == timewise.bars

    def plain(found: Score) -> list[tuple[Fraction, Fraction, Pitch]]:
        return [(e.onset_q, e.duration_q, e.notes[0].written) for i in (0, 1) for v in events(found, i) for e in v]

    assert plain(partwise) == plain(timewise)


def test_a_clarinet_sounds_lower_than_it_reads() -> None:
    """The clarinet in B flat reads C and sounds B flat; both are kept, spelled."""
    b_flat = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    found = score(part(bar(note("C5", 4), note("F#5", 4), grace("D5"), note("C5", 8)), name="Clarinet", before=b_flat))
    notes = [event.notes[0] for event in events(found)[0]]
    assert [("C5", "Bb4"), ("F#5", "E5"), ("C5", "Bb4")] == [(n.written.name, n.sounding.name) for n in notes]
    assert "C5" == events(found)[0][2].small_before[0].sounding[0].name
    assert Transposition(-1, -2) == found.parts[0].transposition_at(Fraction(3))


def test_a_transposition_without_letters_takes_the_nearest() -> None:
    """Where a file gives semitones only, a minor third down is two letters down."""
    found = score(part(bar(note("C5", 4)), before="<transpose><chromatic>-3</chromatic></transpose>"))
    assert "A4" == events(found)[0][0].notes[0].sounding.name


METRONOME = "<metronome><beat-unit>half</beat-unit><per-minute>60</per-minute></metronome>"


@pytest.mark.parametrize(
    ("mark", "tempo"),
    [
        (direction("<words>Allegro</words>", '<sound tempo="100"/>') + direction(METRONOME), (100, "sound")),
        (direction(METRONOME) + direction("<words>Allegro</words>"), (120, "metronome")),
        (direction("<words>Allegro</words>"), (126, "assumed")),
        ("", (80, "assumed")),
    ],
    ids=["sound first", "then metronome", "then words", "then nothing"],
)
def test_tempo_order(mark: str, tempo: tuple[int, str]) -> None:
    """The tempo a file plays goes before the one it prints in numbers, that before the one it prints in words."""
    (found,) = score(part(bar(mark, *FOUR))).tempos
    qpm, origin = tempo
    assert qpm == found.qpm
    assert origin == found.origin


def test_an_assumed_tempo_is_said() -> None:
    """Where no number is printed the player is told which one was taken, and for which word."""
    (place,) = _notices(score(part(bar(direction("<words>Adagio</words>"), *FOUR))), "assumed for 'Adagio'")
    assert "bar 1" == place


def test_the_solo_is_the_wind_part() -> None:
    """Of a violin, an oboe and a keyboard the oboe is taken for the solo."""
    found = score(*(part(bar(grace("D5"), *FOUR), name=name) for name in ("Violin", "Oboe", "Cembalo")))
    assert "Oboe" == guess_solo(found, find_signs(found)).name


# numbers that cannot be


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (note("C5", "many"), "duration is 'many', not a number"),
        (note("C5", "1e9"), "duration is '1e9', not a number"),
        (note("C5", -4), "a note has no duration, or a negative one, and no type"),
        (note("C5", "9" * 30), "duration is '9+', not a number"),
        (note("C5", 4).replace("<duration>4</duration>", ""), "a note has no duration"),
        ("<attributes><divisions>0</divisions></attributes>", "divisions is 0, outside"),
        ("<attributes><divisions>-4</divisions></attributes>", "divisions is -4, outside"),
        ("<attributes><divisions>99999999</divisions></attributes>", "divisions is 99999999, outside"),
        ('<sound tempo="fast"/>', "tempo is 'fast', not a number"),
        ('<sound tempo="1000000"/>', "a tempo of 1e.06 quarter notes a minute"),
        (direction(METRONOME.replace("60", "9000")), "a tempo of 18000 quarter notes a minute"),
        (meter(4, 0), "beat-type is 0, outside 1 to 256"),
        (meter("no", 4), "a meter of 'no' beats"),
        (note("C5", 4).replace("<step>C", "<step>H"), "a pitch has the letter 'H', not one of A to G"),
        (note("C5", 4).replace("<octave>5", "<octave>55"), "octave is 55, outside"),
    ],
)
def test_an_absurd_number_is_refused_with_its_place(content: str, words: str) -> None:
    """The message names file, part, bar and line, and what came."""
    with pytest.raises(ScoreError, match=rf"^page\.musicxml, part Oboe, bar 2, line 11: .*{words}.*Remedy: "):
        score(part(bar(*FOUR), bar(content)))


HELD = "<type>half</type><dot/>"
CHANGED = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
TRIPLET = f"<type>eighth</type>{CHANGED}"


@pytest.mark.parametrize("duration", ["<duration>-12</duration>", ""], ids=["negative", "missing"])
@pytest.mark.parametrize(("printed", "length_q"), [(HELD, Fraction(3)), (TRIPLET, Fraction(1, 3))])
def test_a_length_that_cannot_be_is_as_printed(duration: str, printed: str, length_q: Fraction) -> None:
    """Type, dots and tuplet say how long a note is; said once."""
    odd = note("C5", 4, printed).replace("<duration>4</duration>", duration)
    found = score(part(bar(odd, odd, note("D5", 4))))
    first, second, third = events(found)[0]
    assert [length_q, length_q, 1] == [event.duration_q for event in (first, second, third)]
    assert 2 * length_q == third.onset_q
    assert ["part Oboe, bar 1, line 5"] == _notices(found, "a note without a length, or with a negative one")


FIELDS = (
    '<miscellaneous><miscellaneous-field name="Year">1761</miscellaneous-field>'
    '<miscellaneous-field name="encoded">2020</miscellaneous-field></miscellaneous>'
)
CREDIT = "<credit>{}<credit-words>{}</credit-words></credit>"


@pytest.mark.parametrize(
    ("head", "creators"),
    [
        ('<identification><creator type="composer">N. N.</creator></identification>', (("composer", "N. N."),)),
        (f"<identification>{FIELDS}</identification>", (("date", "1761"),)),
        ("<work><work-title>Sonata (1761)</work-title></work>", (("title", "Sonata (1761)"),)),
        (CREDIT.format("<credit-type>composer</credit-type>", "N. N."), (("credit", "N. N."),)),
        (CREDIT.format("", "N. N. (1720-1780)"), (("credit", "N. N. (1720-1780)"),)),
        (CREDIT.format("", "Allegro"), ()),
    ],
)
def test_who_and_when_is_found_where_files_have_it(head: str, creators: tuple[tuple[str, str], ...]) -> None:
    """Creators, fields of their own, titles with a year, what is printed on the page."""
    page = text(part(bar(*FOUR))).replace("<part-list>", f"{head}<part-list>")
    assert creators == score_of(parse_text(page.encode(), "page").root, "page").creators


@pytest.mark.parametrize("content", [note("C5", 80_000), forward(80_000)], ids=["note", "forward"])
def test_an_endless_bar_is_refused_with_its_place(content: str) -> None:
    """A bar of hours is refused before anything is built on it."""
    with pytest.raises(
        ScoreError, match=r"part Oboe, bar 2, line 11: a bar of more than 10,000 quarter notes.*Remedy: "
    ):
        score(part(bar(*FOUR), bar(content)))


@pytest.mark.parametrize("page", ["<score-partwise/>", '<score-partwise><part id="P1"/></score-partwise>'])
def test_a_page_without_bars_is_refused(page: str) -> None:
    """A score needs a bar."""
    with pytest.raises(ScoreError, match="holds no part with bars"):
        score_of(parse_text(page.encode(), "page").root, "page")


@given(st.lists(st.lists(_step, max_size=6), min_size=1, max_size=3))
def test_reading_twice_gives_the_same(bars: list[list[str]]) -> None:
    """A score and the names of its signs do not depend on when they are read."""
    first, second = (score(part(*(bar(*content) for content in bars))) for _ in range(2))
    assert first == second
    assert [sign.place for sign in find_signs(first)] == [sign.place for sign in find_signs(second)]
