"""Signs in their places: auxiliaries, ties, rests, chords, and the engraver's playback attributes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from appui.exact import Fraction, fraction_of
from appui.realize.voice import Tempo, realize_part
from appui.score.repeats import once
from appui.score.signs import find_signs
from appui.style.choose import choose
from appui.style.reading import parse_reading
from appui.style.situation import Circumstances
from appui.style.table import load_style
from tests.realize.voices import TRILL, note, ornament, score, small

TEMPO = Tempo(((Fraction(0), Fraction(60)),))


def played(music, *words):
    """The realization under readings in words, given to the signs in order."""
    signs = find_signs(music)
    readings = {sign.place: parse_reading(w) for sign, w in zip(signs, words, strict=True)}
    return realize_part(music, 0, signs, readings, once(music.bars), TEMPO)


def by_file(music):
    """The tones under what the style `harmony`, or the file before it, chooses; the one sign's choice too."""
    (sign,) = signs = find_signs(music)
    choice = choose(music, sign, None, load_style("harmony"), Circumstances(Fraction(60)))
    return choice, realize_part(music, 0, signs, {sign.place: choice.reading}, once(music.bars), TEMPO).tones


def test_steal_time_following_is_read_from_the_file() -> None:
    """MusicXML 4.0's own example (read): 33 % of 8 divisions is 2.64, and 5.36 are left."""
    choice, tones = by_file(score(small("F5", "slash='no' steal-time-following='33'") + note("E5", 8)))
    assert "file" == choice.by
    assert [fraction_of("2.64"), fraction_of("5.36")] == [tone.duration_q * 8 for tone in tones]


def test_steal_time_previous_is_read_from_the_file() -> None:
    """MusicXML 4.0 (read): a percentage of the note before, whose time it is."""
    music = score(note("G5", 8) + small("F5", "steal-time-previous='25'") + note("E5", 8))
    assert [Fraction(3, 4), Fraction(1, 4), Fraction(1)] == [tone.duration_q for tone in by_file(music)[1]]


def test_trill_sound_is_read_from_the_file() -> None:
    """MusicXML 4.0's defaults (read): four beats land at 0, 100, 200 and 300 of 400 ticks (computed)."""
    choice, tones = by_file(score(note("E5", 8, ornament("<trill-mark beats='4'/>"))))
    assert "file" == choice.by
    assert [0, 100, 200, 300] == [tone.onset_q * 400 for tone in tones]


@pytest.mark.parametrize(
    ("music", "upper"),
    [
        (score(note("E5", 8, TRILL)), "F5"),
        (score(note("E5", 8, TRILL), fifths=1), "F#5"),  # C.P.E. Bach 1753, 2.1 §17 (read)
        (score(note("F#5", 8) + note("E5", 8, TRILL)), "F#5"),
        (score(note("F#5", 32), note("E5", 8, TRILL)), "F5"),
        (score(note("E5", 8, ornament("<trill-mark/><accidental-mark>sharp</accidental-mark>"))), "F#5"),
        (score(note("G#5", 8) + note("F5", 8, TRILL)), "G5"),  # 2.3 §19 (read): no augmented second
    ],
    ids=["plain", "key", "earlier in the bar", "a bar ago", "accidental mark", "no augmented second"],
)
def test_upper_auxiliary(music, upper) -> None:
    """The trill begins on the neighbour the page makes."""
    tones = played(music, "trill from above without termination").tones
    assert upper == next(tone.pitch.name for tone in tones if tone.role == "trill")


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 64), st.integers(2, 30))
def test_trills_from_above_have_an_even_number_of_notes(length, rate) -> None:
    """Begun on the upper note it ends on the main note, whatever the length and the speed."""
    tones = played(
        score(note("E5", length, TRILL)), f"trill from above without termination {rate} notes a second"
    ).tones
    assert (0, "F", "E") == (len(tones) % 2, tones[0].pitch.step, tones[-1].pitch.step)


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 64), st.integers(2, 30))
def test_terminations_are_lower_and_main(length, rate) -> None:
    """C.P.E. Bach 1753, 2.3 §6 (read): two notes from below end it, whatever the length and the speed."""
    tones = played(score(note("E5", length, TRILL)), f"trill from above with termination {rate} notes a second").tones
    assert [("D5", "termination"), ("E5", "termination")] == [(t.pitch.name, t.role) for t in tones[-2:]]


def test_a_lean_before_a_tied_note_takes_all_of_the_first() -> None:
    """Türk 1789, III.3 §15-21 (memory): the whole value where the main note is tied on."""
    music = score(small("F5") + note("E5", 32, "<tie type='start'/>"), note("E5", 8, "<tie type='stop'/>"))
    tones = played(music, "leaning 1").tones
    assert [("F5", 0, 4), ("E5", 4, 1)] == [(t.pitch.name, t.onset_q, t.duration_q) for t in tones]


def test_a_whole_value_that_would_leave_no_main_note_is_halved_and_said() -> None:
    """With a note following at once half is taken, with a notice."""
    done = played(score(small("F5") + note("E5", 8) + note("D5", 8)), "leaning 1")
    assert [Fraction(1, 2), Fraction(1, 2), Fraction(1)] == [tone.duration_q for tone in done.tones]
    assert "half is taken" in done.notices[0][1]


def test_only_the_nearest_note_of_a_chord_is_delayed() -> None:
    """Grove's Dictionary vol. 1, p. 79 (read): before a chord it delays only its own note."""
    music = score(small("F5") + note("C5", 8) + note("E5", 8, chord=True))
    tones = played(music, "leaning 1/2").tones
    half = Fraction(1, 2)
    assert {("C5", 0, 1), ("F5", 0, half), ("E5", half, half)} == {
        (t.pitch.name, t.onset_q, t.duration_q) for t in tones
    }


def test_a_passing_grace_after_a_rest_leaves_the_note_before_the_rest_whole() -> None:
    """It sounds in the rest."""
    tones = played(score(note("G5", 8) + note("R", 8) + small("F5") + note("E5", 8)), "before 100 ms").tones
    assert [(0, 1), (fraction_of("1.9"), fraction_of("0.1")), (2, 1)] == [(t.onset_q, t.duration_q) for t in tones]


READINGS = ("leaning 1/2", "leaning 2/3", "leaning 1", "before", "before 2000 ms", "short", "short 900 ms", "plain")


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 24), st.sampled_from(READINGS)), min_size=1, max_size=8))
def test_the_time_of_a_voice_is_exactly_kept(notes) -> None:
    """In a voice without rests the tones add up to the notes, whatever the readings."""
    music = score("".join(small("F5") + note("E5", length) for length, _ in notes))
    tones = played(music, *(words for _, words in notes)).tones
    assert Fraction(sum(length for length, _ in notes), 8) == sum(tone.duration_q for tone in tones)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 24), st.sampled_from(["before", "before 2000 ms"])), min_size=1, max_size=6))
def test_passing_graces_leave_every_main_note_on_its_beat(notes) -> None:
    """Main notes whose sign falls before the beat start where they are printed."""
    music = score(note("C5", 8) + "".join(small("F5") + note("E5", length) for length, _ in notes))
    tones = played(music, *(words for _, words in notes)).tones
    printed = [event.onset_q for event in music.parts[0].voices[0].events]
    assert printed == [tone.onset_q for tone in tones if tone.role != "before"]
