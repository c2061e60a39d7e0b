"""What every writer of MusicXML builds with: elements in the schema's order, notes, beams, accidentals, bars, heads."""

from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from appui.errors import ScoreError
from appui.exact import Fraction
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.musicxml.write.accidentals import InForce, print_accidentals
from appui.musicxml.write.bar import edges, new_barline, set_clefs, set_meter, set_signature, set_transposition
from appui.musicxml.write.beams import beam_bar, beams_of
from appui.musicxml.write.build import ORDER, add, copied, decimal_text, needed, new, put, remove_tail_kept
from appui.musicxml.write.chords import chord_symbol, figured_bass
from appui.musicxml.write.cut import alone
from appui.musicxml.write.direction import dynamics, hairpin, jump, metronome, offset, tempo, words
from appui.musicxml.write.head import Player, file_bytes, list_group, list_part, new_score, tree_bytes
from appui.musicxml.write.note import Look, forward, new_note, notations_of, set_pitch, small_note
from appui.musicxml.write.time import attributes_of, placed, refine
from appui.score.model import Bar, Ending, Jump, Key, Meter
from appui.score.pitch import Pitch, Transposition, parse_pitch
from tests.there import there

C5, FIS5 = Pitch("C", 0, 5), Pitch("F", 1, 5)
QUARTER = Look("quarter")


def score_with(*elements, divisions: int = 4):
    """A score of one part and one bar, these elements in it."""
    root = new_score("A title", "Nobody")
    bar = add(list_part(root, "P1", Player("Oboe", "Ob.", "wind.reed.oboe", 1, 69)), "measure", number="1")
    put(attributes_of(bar), new("divisions", divisions))
    bar.extend(elements)
    return root


def read(root):
    """The score as our reader has it."""
    return score_of(parse_text(file_bytes(root), "x.musicxml").root, "x.musicxml")


def text(node) -> str:
    """An element as text."""
    return etree.tostring(node, encoding="unicode")


@given(st.permutations(ORDER["note"][:20]))
def test_children_stand_in_the_order_of_the_schema(tags) -> None:
    """Whatever order they are made in."""
    note = new("note")
    for tag in tags:
        put(note, new(tag))
    assert list(ORDER["note"][:20]) == [child.tag for child in note]


def test_the_order_is_that_of_the_schema(schema_4) -> None:
    """MusicXML 4.0, musicxml.xsd (as shipped in the package musicxml): a note with most things on it is valid."""
    note = new_note(
        C5, 4, Look("quarter", 1, (3, 2), "natural", "up", ("begin",)), ties=("stop", "start"), voice="1", staff=1
    )
    add(notations_of(note), "slur", type="start", number="1")
    for child in (new("instrument", id="P1-I1"), new("notehead", "normal")):
        put(note, child)
    add(put(note, new("lyric")), "text", "la")
    schema_4.assertValid(etree.parse(BytesIO(file_bytes(score_with(note)))))


def test_an_element_of_no_order_is_refused() -> None:
    """A slip of the writer's, not of the file's."""
    with pytest.raises(ValueError, match="index"):
        put(new("note"), new("measure"))


def test_a_missing_element_is_named() -> None:
    """By what it was looked for in."""
    with pytest.raises(KeyError, match="<note> has no duration"):
        needed(new("note"), "duration")


def test_attributes_left_empty_are_left_out() -> None:
    """An underscore is a hyphen."""
    assert '<direction-type font-style="italic">x</direction-type>' == text(
        new("direction-type", "x", font_style="italic", placement=None)
    )


@pytest.mark.parametrize(
    ("value", "expected"), [(Fraction(3), "3"), (Fraction(-1, 2), "-0.5"), (Fraction(1, 3), "0.333333"), (120, "120")]
)
def test_numbers_are_decimals(value, expected) -> None:
    """As xs:decimal has them, without an exponent."""
    assert expected == decimal_text(value)


def test_words_after_an_element_stay() -> None:
    """They belong to the file."""
    root = etree.fromstring("<a><b/> x <c/> y </a>")
    remove_tail_kept([root[1]])
    assert "<a><b/> x y</a>" == text(root)
    assert "<b/>" == text(copied(root[0]))


# notes


def test_a_note_comes_back() -> None:
    """Pitch, length, value, dot, tuplet, tie."""
    tie = new_note(FIS5, 4, Look("quarter", 0, (3, 2)), ties=("start",), voice="1")
    end = new_note(FIS5, 6, Look("quarter", 1), ties=("stop",), voice="1")
    one, other = read(score_with(tie, end)).parts[0].voices[0].events
    assert (FIS5, Fraction(1), "quarter", Fraction(2, 3), True) == (
        one.notes[0].written, one.duration_q, one.type_name, one.tuplet, one.notes[0].tied_on,
    )  # fmt: skip
    assert (Fraction(3, 2), 1, True) == (other.duration_q, other.dots, other.notes[0].tied_back)


def test_a_chord_is_one_event_and_a_rest_none() -> None:
    """The second note of a chord begins with the first."""
    notes = (new_note(C5, 4, QUARTER), new_note(FIS5, 4, QUARTER, chord=True), new_note(None, 4, QUARTER))
    chord, rest = read(score_with(*notes)).parts[0].voices[0].events
    assert ([C5, FIS5], True) == ([note.written for note in chord.notes], rest.is_rest)


def test_a_small_note_comes_back() -> None:
    """With its stroke and its value."""
    small = small_note(FIS5, Look("eighth"), slash=True, voice="1")
    (event,) = read(score_with(small, new_note(C5, 4, QUARTER, voice="1"))).parts[0].voices[0].events
    (found,) = event.small_before
    assert ((FIS5,), True, Fraction(1, 2)) == (found.written, found.slash, found.value_q)


def test_a_pitch_takes_the_place_of_another() -> None:
    """A note has one."""
    note = new_note(C5, 4, QUARTER)
    set_pitch(note, FIS5)
    assert ["F", "1", "5"] == [child.text for child in needed(note, "pitch")]
    set_pitch(note, None)
    assert ["rest", "duration", "type"] == [child.tag for child in note]


@pytest.mark.parametrize(
    ("flags", "expected"),
    [
        ([1], [()]),
        ([1, 1, 1], [("begin",), ("continue",), ("end",)]),
        ([1, 2], [("begin",), ("end", "backward hook")]),
        ([2, 1, 2], [("begin", "forward hook"), ("continue",), ("end", "backward hook")]),
        ([1, 2, 2], [("begin",), ("continue", "begin"), ("end", "end")]),
        ([1, 2, 1], [("begin",), ("continue", "backward hook"), ("end",)]),
        ([], []),
    ],
)
def test_beams_follow_from_flags(flags, expected) -> None:
    """A flag with no neighbour of its level is a hook, towards its group (common practice, no source)."""
    assert expected == beams_of(flags)


def test_beams_join_within_a_beat() -> None:
    """In 6/8 three and three; a rest parts them, and beams there were are gone."""
    look = Look("eighth", beams=("begin",))
    notes = [new_note(C5 if index != 4 else None, 2, look, voice="1") for index in range(6)]
    measure = score_with(*notes).find("part/measure")
    beam_bar(measure, Bar(0, "1", Fraction(0), Fraction(3), Meter(6, 8)), 4, {"1"})
    assert ["begin", "continue", "end", None, None, None] == [note.findtext("beam") for note in notes]


# accidentals


@pytest.mark.parametrize(
    ("fifths", "pitches", "expected"),
    [
        (0, "F#5 F#5 F5 F5", ["sharp", "", "natural", ""]),
        (1, "F#5 F5 F#5", ["", "natural", "sharp"]),
        (-2, "Bb4 B4 B5 Bb4", ["", "natural", "natural", "flat"]),
        (0, "F##5 Bb4 F#5", ["double-sharp", "flat", "sharp"]),
    ],
)
def test_an_accidental_holds_for_its_line_in_the_bar(fifths, pitches, expected) -> None:
    """Another octave has its own (any theory primer; common practice, no source)."""
    holds = InForce.of_signature(fifths)
    assert expected == [holds.needed(parse_pitch(word)) for word in pitches.split()]


def test_fresh_notes_get_accidentals_and_those_after_them_too() -> None:
    """A printed note needs one where a fresh one has changed its line; what stands there stays."""
    fresh = new_note(FIS5, 4, QUARTER)
    after, tied = new_note(Pitch("F", 0, 5), 4, QUARTER), new_note(FIS5, 4, QUARTER, ties=("stop",))
    shown = new_note(FIS5, 4, Look("quarter", accidental="sharp"))
    measure = score_with(fresh, after, shown, tied).find("part/measure")
    print_accidentals(measure, 4, Key(Fraction(0), 0), {fresh})
    assert ["sharp", "natural", "sharp", None] == [note.findtext("accidental") for note in measure.iter("note")]


# bars


def test_attributes_come_back() -> None:
    """Key, meter, clefs, transposition of a clarinet in B flat an octave lower."""
    root = score_with(new_note(C5, 4, QUARTER))
    attributes = attributes_of(needed(root, "part/measure"))
    set_transposition(attributes, Transposition(-8, -14))
    set_clefs(attributes, [("G", 2), ("F", 4)])
    set_meter(attributes, 2, 2, "cut")
    set_signature(attributes, -3, "minor")
    assert ["divisions", "key", "time", "staves", "clef", "clef", "transpose"] == [child.tag for child in attributes]
    score = read(root)
    part = score.parts[0]
    assert (Meter(2, 2, "cut"), -3, "minor", 2) == (
        score.bars[0].meter, part.keys[0].fifths, part.keys[0].mode, part.staves,
    )  # fmt: skip
    assert Transposition(-8, -14) == part.transposition_at(Fraction(0))


@given(st.integers(-14, 14), st.integers(-24, 24))
def test_any_transposition_comes_back(diatonic, chromatic) -> None:
    """Octaves and all."""
    root = score_with(new_note(C5, 4, QUARTER))
    set_transposition(attributes_of(needed(root, "part/measure")), Transposition(diatonic, chromatic))
    assert Transposition(diatonic, chromatic) == read(root).parts[0].transposition_at(Fraction(0))


def test_edges_of_a_bar() -> None:
    """A repeat three times over, an ending begun and closed, the last bar's double line; a plain bar has none."""
    plain = Bar(0, "1", Fraction(0), Fraction(4), Meter(4, 4))
    first = Bar(1, "2", Fraction(4), Fraction(4), Meter(4, 4), repeat_backward=3, endings=(Ending((1, 2)),))
    assert (None, None) == edges(None, plain, first)
    left, right = edges(plain, first, plain)
    assert '<barline location="left"><ending number="1, 2" type="start"/></barline>' == text(left)
    assert right is not None
    assert ["bar-style", "ending", "repeat"] == [child.tag for child in right]
    assert ("stop", "3") == (needed(right, "ending").get("type"), needed(right, "repeat").get("times"))
    assert "light-heavy" == there(edges(first, plain, None)[1]).findtext("bar-style")
    assert '<barline location="right"/>' == text(new_barline("right"))


def test_directions_come_back() -> None:
    """Tempo, dynamics and hairpin at their moments."""
    mark = tempo(72, "Andantino", font_weight="bold")
    metronome(mark, "quarter", 1, 48)
    note = new_note(C5, 8, Look("half"))
    score = read(score_with(mark, dynamics("mf"), hairpin("crescendo"), note, hairpin("stop"), words("dolce")))
    (found,) = score.tempos
    assert (72, "Andantino", "sound") == (found.qpm, found.words, found.origin)
    assert ["mf"] == [each.mark for each in score.parts[0].dynamics]
    assert [(Fraction(0), Fraction(2))] == [(each.onset_q, each.end_q) for each in score.parts[0].hairpins]


def test_an_offset_moves_a_tempo_that_sounds_there() -> None:
    """Two divisions of four are half a quarter."""
    score = read(score_with(tempo(60), offset(tempo(72), 2, sounds=True), new_note(C5, 4, QUARTER)))
    assert [(0, 60), (Fraction(1, 2), 72)] == [(mark.onset_q, mark.qpm) for mark in score.tempos]


@pytest.mark.parametrize("kind", ["segno", "coda", "dacapo", "dalsegno", "tocoda", "fine"])
def test_leaps_come_back(kind, schema_4) -> None:
    """Each with the pass it is for."""
    found = Jump(kind, "" if kind in ("dacapo", "fine") else "a", (2,))
    root = score_with(new_note(C5, 4, QUARTER), jump(found))
    assert (found,) == read(root).bars[0].jumps
    schema_4.assertValid(etree.parse(BytesIO(file_bytes(root))))


def test_chords_come_back() -> None:
    """Root, bass, degrees; figures with prefix and line."""
    symbol = chord_symbol("Bb", "dominant", "7", "Ab", [(9, -1, "add")])
    figures = figured_bass([("6", "", "", ""), ("5", "flat", "", "yes")], 4)
    part = read(score_with(offset(symbol, 2), figures, new_note(C5, 4, QUARTER))).parts[0]
    (found,) = part.chord_symbols
    assert (Fraction(1, 2), "Bb", "dominant", "Ab", ((9, -1, "add"),)) == found[:5]
    assert [("6", ""), ("5", "flat")] == [(figure.number, figure.prefix) for figure in part.figures[0].figures]


# the head


def test_a_head_comes_back() -> None:
    """Title, creator, names, instrument."""
    score = read(score_with(new_note(C5, 4, QUARTER)))
    assert ("A title", (("composer", "Nobody"),), "Oboe", 68) == (
        score.title, score.creators, score.parts[0].name, score.parts[0].program,
    )  # fmt: skip


def test_a_bracket_goes_round_its_parts() -> None:
    """From the second to the last."""
    root = new_score()
    for name in ("P1", "P2", "P3"):
        add(list_part(root, name, Player(name)), "measure", number="1")
    list_group(root, 1, 2)
    assert ["score-part", "part-group", "score-part", "score-part", "part-group"] == [
        each.tag for each in needed(root, "part-list")
    ]


def test_a_tree_keeps_its_own_doctype() -> None:
    """A file of another version is written as one of that."""
    own = '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 2.0 Partwise//EN" "http://x/partwise.dtd">'
    root = etree.fromstring(f"{own}<score-partwise version='2.0'><part-list/></score-partwise>")
    assert own in tree_bytes(root).decode()
    bare = etree.fromstring("<score-partwise version='3.1'/>")
    assert "DTD MusicXML 3.1 Partwise" in tree_bytes(bare).decode()


# time


def test_moments_of_a_bar() -> None:
    """A chord note has those of its chord, a backup ends before it begins, a small note has no length."""
    measure = score_with(
        small_note(C5, Look("eighth")), new_note(C5, 4, QUARTER), new_note(FIS5, 4, QUARTER, chord=True)
    ).find("part/measure")
    forward(measure, 2)
    forward(measure, 6, "backup")
    forward(measure, 0)
    found = [(float(one.start_q), float(one.end_q)) for one in placed(measure, 4)]
    assert [(0, 0), (0, 1), (0, 1), (1, 1.5), (1.5, 0)] == found


def test_divisions_grow_and_nothing_changes() -> None:
    """The same score to our reader."""
    root = score_with(new_note(C5, 4, QUARTER), new_note(FIS5, 2, Look("eighth")))
    before = read(copied(root))
    assert 12 == refine(root.find("part"), 3, "x")
    assert before.parts == read(root).parts


def test_too_fine_divisions_are_refused() -> None:
    """With the file's name."""
    with pytest.raises(ScoreError, match=r"x\.xml: written out, it would need .* divisions"):
        refine(score_with(new_note(C5, 4, QUARTER)).find("part"), 10_000_019, "x.xml")


def test_bars_alone_are_a_score() -> None:
    """What was in force before them is said, and what was asked to be left out is; the tree they come from stays."""
    root = score_with(new_note(C5, 4, QUARTER))
    set_signature(attributes_of(needed(root, "part/measure")), -2)
    second = add(needed(root, "part"), "measure", number="2")
    second.extend([words("away"), new_note(FIS5, 4, QUARTER)])
    before = text(root)
    made = alone(root.findall("part/measure"), 1, 1, "Solo", ("direction",))
    score = read(made)
    assert (["2"], "Solo", -2) == (
        [bar.number for bar in score.bars],
        score.parts[0].name,
        score.parts[0].keys[0].fifths,
    )
    assert made.find("part/measure/direction") is None
    assert before == text(root)
