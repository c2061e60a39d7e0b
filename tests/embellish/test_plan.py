"""Embellishments written in a plan: read, checked at their line, played in the place of the printed notes."""

import pytest

from appui.errors import PlanError, UsageError
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.realizing import realize
from appui.interpret.wishes import Wishes
from appui.perform.play import play
from appui.plan.free_notes import notes_text, parse_notes
from appui.score.repeats import once, unfold
from appui.style.free import FreeNote
from tests.embellish.pieces import interpretation, planned, xml
from tests.there import there

Q = Fraction
SOLO = "C5q E5q G5h | F5q D5q C5h"
BASS = "C3+E4+G4w | G3+B3+F4h C3+E4+G4h"
HELD = "E5h^ Rh | C5w"
HELD_BASS = "C3+G3+E4h^ Rh | C3+E4+G4w"


def heard(interpretation, order=None):
    """(onset, length, name, role) of the solo's tones, in quarters."""
    tones = realize(interpretation, order or once(interpretation.score.bars), None, [0]).tones[0]
    return [(tone.onset_q, tone.duration_q, tone.pitch.name, tone.role) for tone in tones]


def onsets(performance):
    """When the notes of each part begin, in seconds."""
    return [[round(note.onset_s, 6) for note in part.notes] for part in performance.parts]


def test_notes_are_read_back_as_they_are_written():
    """What `notes_text` writes, `parse_notes` reads."""
    line = parse_notes("E5:3/8 D5:1/16 r:1/12 C#5:1/4:tr | Bb4:1/2")
    assert line == parse_notes(notes_text(line))
    assert FreeNote(None, Q(1, 3)) == line.notes[2]
    assert Q(2) == line.in_time_q


def test_notes_take_the_place_of_those_they_fill(tmp_path):
    """Two printed quarters become the player's four notes; everything else stands."""
    made = planned(tmp_path, '"oboe.1.1" = { over = "1/2", notes = "C5:1/8 D5:1/8 E5:1/8 F5:1/8" }', SOLO, BASS)
    assert [
        (Q(0), Q(1, 2), "C5", "free"),
        (Q(1, 2), Q(1, 2), "D5", "free"),
        (Q(1), Q(1, 2), "E5", "free"),
        (Q(3, 2), Q(1, 2), "F5", "free"),
        (Q(2), Q(2), "G5", "plain"),
    ] == heard(made)[:5]


def test_a_dissonance_on_the_beat_that_steps_down_weighs(tmp_path):
    """It is a leaning note: louder than its release (C.P.E. Bach 1753, 2.2 §7, read)."""
    made = planned(tmp_path, '"oboe.1.1" = { over = "1/4", notes = "D5:1/8 C5:1/8" }', SOLO, BASS)
    tones = realize(made, once(made.score.bars), None, [0]).tones[0]
    assert ["lean", "release"] == [tone.role for tone in tones[:2]]
    assert tones[0].level_db > tones[1].level_db


def test_a_trill_begins_above_and_ends_below(tmp_path):
    """Türk 1789, IV §55 (read): the common trill begins with the auxiliary; the termination is common practice."""
    made = planned(tmp_path, '"oboe.2.2" = { over = "1/4", notes = "D5:1/4:tr" }', SOLO, BASS)
    names = [name for _, _, name, role in heard(made) if role == "trill"]
    assert ["E5", "D5"] == names[:2]
    assert ["C5", "D5"] == names[-2:]
    assert Q(1) == sum(length for _, length, _, role in heard(made) if role == "trill")


def test_all_parts_wait_for_what_is_played_under_a_fermata(tmp_path):
    """Türk 1789, V §11 (read): time and accompaniment are held up; here until the player has done."""
    notes = '"oboe.1.1" = { notes = "E5:1/4 F5:1/8 E5:1/8 D5:1/4 E5:1/4 D5:1/4 C5:1/4 D5:1/2" }'
    solo, bass = onsets(play(planned(tmp_path, notes, HELD, HELD_BASS), once(interpretation(HELD, "").score.bars)))
    # eight quarters at 60 under the fermata, then the half rest
    assert [0, 1, 1.5, 2, 3, 4, 5, 6, 10] == solo
    assert [0, 0, 0, 10, 10, 10] == bass


def test_the_others_let_go_of_their_chord_before_the_player_goes_on(tmp_path):
    """They sound with the first note, then are silent and wait (common practice, no source)."""
    notes = '"oboe.1.1" = { notes = "E5:1/4 F5:1/8 E5:1/8 D5:1/4 C5:3/4" }'
    played = play(planned(tmp_path, notes, HELD, HELD_BASS), once(interpretation(HELD, "").score.bars))
    assert [1.0] * 3 == [pytest.approx(note.duration_s, abs=0.06) for note in played.parts[1].notes[:3]]


def test_the_first_note_waits_until_the_others_stand(tmp_path):
    """Where the accompaniment still moves under the fermata, the first note is held until it has arrived."""
    made = planned(
        tmp_path, '"oboe.1.1" = { notes = "E5:3/4 D5:1/4 C5:1/4" }', "E5w^ | C5w", "C3+G3h G3+E4h | C3+E4+G4w"
    )
    solo, bass = onsets(play(made, once(made.score.bars)))
    assert [0, 3, 4, 5] == solo
    assert {0, 2, 5} == set(bass)


def test_notes_after_the_bar_line_are_in_time_again(tmp_path):
    """With the bar line the accompaniment comes in."""
    notes = '"oboe.1.1" = { over = "1/1", notes = "E5:1/1 F5:1/4 E5:3/4 | D5:1/2 C5:1/2" }'
    made = planned(tmp_path, notes, "E5w^ | C5w | C5w", "C3+G3+E4w^ | C3+E4+G4w | C3w")
    solo, bass = onsets(play(made, once(made.score.bars)))
    assert [0, 4, 5, 8, 10, 12] == solo
    assert 8 in bass


def test_what_is_for_the_second_time_waits_for_it(tmp_path):
    """The first time the page is played as it stands."""
    line = '"oboe.1.1" = { over = "1/4", notes = "C5:1/8 D5:1/8", second_time = true }'
    made = planned(tmp_path, line, ":" + SOLO + ":", ":" + BASS + ":")
    tones = heard(made, unfold(made.score.bars))
    assert ["C5", "E5", "G5", "F5", "D5", "C5", "C5", "D5", "E5"] == [name for _, _, name, _ in tones[:9]]
    assert [Q(8), Q(17, 2)] == [onset for onset, _, _, role in tones if role == "free"]


def test_who_asks_for_it_hears_it_the_first_time_too(tmp_path):
    """A comparison plays a bar once."""
    line = '"oboe.1.1" = { over = "1/4", notes = "C5:1/8 D5:1/8", second_time = true }'
    made = planned(tmp_path, line, ":" + SOLO + ":", ":" + BASS + ":")
    asked = {"oboe.1.1.free": made.reading("oboe.1.1.free", "embellished")}
    tones = realize(made, once(made.score.bars), asked, [0]).tones[0]
    assert ["C5", "D5", "E5"] == [tone.pitch.name for tone in tones[:3]]


def test_the_next_notes_small_note_takes_its_time_from_the_last(tmp_path):
    """Sums stay exact: what comes before the next beat is given by the last note added."""
    path = tmp_path / "piece.musicxml"
    grace = "<note><grace/><pitch><step>F</step><octave>5</octave></pitch><voice>1</voice><type>eighth</type></note>"
    path.write_text(xml("C5h E5h | G5w", BASS).replace("<measure number='2'>", "<measure number='2'>" + grace, 1))
    plan = tmp_path / "plan.toml"
    plan.write_text(
        f'[score]\nsha256 = "{interpret(path).score.sha256}"\n[readings]\n"oboe.2.1" = "before"\n[embellishments]\n'
        '"oboe.1.3" = { over = "1/2", notes = "E5:1/4 F5:1/8 E5:1/8" }\n'
    )
    made = interpret(path, Wishes(solo="1", plan=plan))
    tones = realize(made, once(made.score.bars), None, [0]).tones[0]
    assert Q(8) == sum(tone.duration_q for tone in tones)
    assert ["C5", "E5", "F5", "E5", "F5", "G5"] == [tone.pitch.name for tone in tones]


def test_pitches_are_those_the_player_reads(tmp_path):
    """A clarinet in B flat reads D and sounds C."""
    shift = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    made = planned(
        tmp_path,
        '"clarinet.1.1" = { over = "1/4", notes = "D5:1/8 E5:1/8" }',
        "D5q F#5q A5h",
        "C3+E4+G4w",
        name="Clarinet",
        transpose=shift,
    )
    assert ["C5", "D5"] == [name for _, _, name, _ in heard(made)[:2]]


def test_notes_may_come_from_a_file_beside_the_plan(tmp_path):
    """A snippet is the first voice of a MusicXML file that the player wrote elsewhere."""
    (tmp_path / "own.musicxml").write_text(xml("C5e D5e E5e F5e", ""))
    made = planned(tmp_path, '"oboe.1.1" = { over = "1/2", snippet = "own.musicxml" }', SOLO, BASS)
    assert ["C5", "D5", "E5", "F5", "G5"] == [name for _, _, name, _ in heard(made)[:5]]


def test_a_snippet_divides_at_its_fermata(tmp_path):
    """What stands up to it is free of the bar, the rest in time; a trill in it is a trill."""
    (tmp_path / "own.musicxml").write_text(xml("E5h F5q E5q^ | D5wt", ""))
    line = '"oboe.1.1" = { over = "1/1", snippet = "own.musicxml" }'
    made = planned(tmp_path, line, "E5w^ | C5w | C5w", "C3+G3+E4w^ | C3+E4+G4w | C3w")
    found = there(made.choices["oboe.1.1"].reading.free)
    assert parse_notes("E5:1/2 F5:1/4 E5:1/4 | D5:1:tr") == found.written


def test_a_foreign_note_stands_where_the_player_says_so(tmp_path):
    """The player decides, not the harmony that was read."""
    line = '"oboe.1.1" = { over = "1/4", notes = "F5:1/8 C5:1/8", unchecked = true }'
    assert ["F5", "C5"] == [name for _, _, name, _ in heard(planned(tmp_path, line, SOLO, BASS))[:2]]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (
            '"oboe.1.1" = { over = "1/4", notes = "C5:1/8 D5:1/16" }',
            r"line 7: .*oboe.1.1: its notes add up to 3/16, but",
        ),
        ('"oboe.1.1" = { over = "3/8", notes = "C5:1/4 D5:1/8" }', r"its over = 3/8 does not end with a printed note"),
        ('"oboe.1.1" = { over = "1/0", notes = "C5:1/4" }', r"its over = '1/0' is no value; write it as \"1/4\""),
        (
            '"oboe.1.4" = { over = "1/4", notes = "C5:1/4" }',
            r"line 7: .*no note at 'oboe.1.4'; the nearest is oboe.1.\d",
        ),
        ('"oboe.1.1" = { over = "1/4", notes = "H5:1/4" }', r"note 1, 'H5:1/4', is not pitch and value such as C5:1/8"),
        ('"oboe.1.1" = { over = "1/4", notes = "C5:0/4" }', r"note 1, 'C5:0/4', is not pitch and value"),
        ('"oboe.1.1" = { over = "1/4", notes = "r:1/8:tr C5:1/8" }', r"note 1, 'r:1/8:tr', is a rest with a trill"),
        ('"oboe.1.1" = { over = "1/4", notes = "" }', r"has no notes"),
        ('"oboe.1.1" = { over = "1/4", notes = "C5:1/4 |" }', r"has nothing after its \|"),
        ('"oboe.1.1" = { over = "1/4", notes = "C5:1/4 | D5:1/4" }', r"has a \|, but there is no fermata"),
        ('"oboe.1.1" = { over = "1/4", notes = "C8:1/4" }', r"note 1, C8:1/4, is outside Oboe's compass, C4 to F6"),
        ('"oboe.1.1" = { over = "1/4", notes = "F5:1/8 C5:1/8" }', r"line 7: .*note 1, F5:1/8, is foreign to C E G"),
        ('"oboe.1.1" = 3', r"line 7: .*is not written as \{ over"),
        ('"oboe.1.1" = { over = "1/4", notes = "C5:1/4", speed = 2 }', r"is not written as \{ over"),
        ('"oboe.1.1" = { over = "1/4", notes = 4 }', r"its notes are not text"),
        (
            '"oboe.1.1" = { over = "1/4", notes = "C5:1/4", second_time = 2 }',
            r"second_time = 2 is neither true nor false",
        ),
        (
            '"oboe.1.1" = { over = "1/2", notes = "C5:1/4 E5:1/4" }\n"oboe.1.2" = { over = "1/4", notes = "E5:1/4" }',
            r"line 8: the embellishments of oboe.1.1 and oboe.1.2 replace the same note",
        ),
        ('"oboe.1.1" = { over = "1/4", snippet = "none.musicxml" }', r"line 7: .*its snippet cannot be used: "),
    ],
)
def test_a_line_that_does_not_fit_is_refused_where_it_stands(tmp_path, line, words):
    """Each message names the line and what is wrong."""
    with pytest.raises(PlanError, match=words):
        planned(tmp_path, line, SOLO, BASS)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('"oboe.1.1" = { notes = "E5:1/4" }', r"its notes add up to 1/4, but the note under the fermata is 1/2 long"),
        ('"oboe.1.1" = { notes = "E5:1/1", second_time = true }', r"a fermata is held alike every time"),
        ('"oboe.1.1" = { notes = "E5:1/1 | C5:1/4" }', r"its notes after \| add up to 1/4, but they replace 0"),
        ('"oboe.1.3" = { over = "1/2", notes = "E5:1/2" }', r"there is no note at 'oboe.1.3'"),
    ],
)
def test_a_line_for_a_fermata_that_does_not_fit_is_refused(tmp_path, line, words):
    """The same under a fermata."""
    with pytest.raises(PlanError, match=words):
        planned(tmp_path, line, HELD, HELD_BASS)


def test_an_embellished_reading_needs_notes(tmp_path):
    """Asked for where a plan has none, it is refused with where to write them."""
    made = interpretation(HELD, HELD_BASS)
    with pytest.raises(UsageError, match=r"oboe.1.1 has no notes to be embellished with; write them under \[embell"):
        made.reading("oboe.1.1", "embellished")


def test_without_a_plan_nothing_is_embellished():
    """Plain is what stands when nobody asks."""
    assert {} == interpretation(SOLO, BASS).embellishments


@pytest.mark.parametrize(("notes", "swells"), [("G5:1/2", True), ("G5:1/4 E5:1/4", False), ("G5:1/2:tr", False)])
def test_a_long_note_alone_swells_and_falls(tmp_path, notes, swells):
    """Messa di voce (common practice, no source): what the player leaves plain and writes down is shaped."""
    made = planned(tmp_path, f'"oboe.1.3" = {{ over = "1/2", notes = "{notes}" }}', SOLO, BASS)
    tones = realize(made, once(made.score.bars), None, [0]).tones[0]
    assert swells == any(tone.swell_db > 0 for tone in tones)
