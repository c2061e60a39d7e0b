"""The laws of realization, over generated voices, and the printed arithmetic of the sources."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from appui.exact import Fraction, fraction_of
from appui.musicxml.read.score import score_of
from appui.realize.voice import Tempo, realize_part
from appui.score.repeats import once
from appui.score.signs import find_signs
from appui.style.reading import parse_reading

TEMPO = Tempo(((Fraction(0), Fraction(60)),))


def score(notes, key=0):
    """A voice in 4/4 of eighth divisions; a note is (letter or R, divisions, small letters, trill?, after letters)."""
    body = f"<attributes><divisions>8</divisions><key><fifths>{key}</fifths></key></attributes>"
    for letter, length, small, trill, after in notes:
        body += "".join(f"<note><grace/>{pitch(s)}<voice>1</voice><type>eighth</type></note>" for s in small)
        what = "<rest/>" if letter == "R" else pitch(letter)
        sign = "<notations><ornaments><trill-mark/></ornaments></notations>" if trill else ""
        body += f"<note>{what}<duration>{length}</duration><voice>1</voice>{sign}</note>"
        if after:
            body += "".join(f"<note><grace/>{pitch(s)}<voice>1</voice><type>16th</type></note>" for s in after)
            body += "</measure><measure number='2'>"
    text = (
        "<score-partwise><part-list><score-part id='P'><part-name>Oboe</part-name></score-part></part-list>"
        f"<part id='P'><measure number='1'>{body}</measure></part></score-partwise>"
    )
    return score_of(etree.fromstring(text), "x")


def pitch(letter):
    """A letter of the fifth octave."""
    return f"<pitch><step>{letter}</step><octave>5</octave></pitch>"


def realized(music, readings, tempo=TEMPO, lead_q=Fraction(0)):
    """The tones and notices under readings in words, given to the signs in order."""
    signs = find_signs(music)
    chosen = {sign.place: parse_reading(words) for sign, words in zip(signs, readings, strict=False)}
    return realize_part(music, 0, signs, chosen, once(music.bars), tempo, lead_q=lead_q)


WORDS = {
    "small notes": ["leaning 1/2", "leaning 2/3", "leaning 1", "before", "before 900 ms", "short", "termination",
                    "plain"],
    "after-notes": ["after", "after 2000 ms", "plain"],
    "trill": ["trill from above with termination", "trill from the main note half", "trill from below accelerating",
              "trill from above dwelling 1/3 with a stop", "trill of 4 notes the second at 25 % the last at 75 %"],
}  # fmt: skip
NOTE = st.tuples(
    st.sampled_from("CDEFGABR"),
    st.integers(1, 32),
    st.text("CDEFGAB", max_size=3),
    st.booleans(),
    st.text("CDE", max_size=2),
).map(lambda n: (n[0], n[1], "" if n[0] == "R" else n[2], n[3] and n[0] != "R", "" if n[0] == "R" else n[4]))


@settings(max_examples=300, deadline=None)
@given(st.lists(NOTE, min_size=1, max_size=8), st.data())
def test_nothing_is_lost_moved_or_overlapping(notes, data) -> None:
    """Every plain note sounds, no length is zero, nothing overlaps, main notes without a sign on the beat keep it."""
    music = score(notes)
    signs = find_signs(music)
    readings = {s.place: parse_reading(data.draw(st.sampled_from(WORDS[s.kind]))) for s in signs}
    tones = realize_part(music, 0, signs, readings, once(music.bars), TEMPO).tones
    assert all(tone.duration_q > 0 for tone in tones)
    ordered = sorted(tones, key=lambda tone: tone.onset_q)
    assert all(earlier.end_q <= later.onset_q for earlier, later in pairwise(ordered))
    (voice,) = music.parts[0].voices
    for event in (e for e in voice.events if e.notes):
        own = [t for t in tones if t.event is event]
        assert any(t.pitch == event.notes[0].sounding for t in own)
        on_beat = [t for t in own if t.role != "before" and t.onset_q >= event.onset_q]
        assert min(t.onset_q for t in on_beat) == event.onset_q


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 32), st.integers(1, 3), st.integers(20, 2000))
def test_a_passing_grace_takes_at_most_half_of_what_precedes(length, count, ms) -> None:
    """What the note before loses is exactly what the small notes take, and never more than half of it."""
    music = score([("C", length, "", False, ""), ("E", 8, "D" * count, False, "")])
    tones = realized(music, [f"before {ms} ms"]).tones
    taken = sum(t.duration_q for t in tones if t.role == "before")
    assert tones[0].duration_q + taken == Fraction(length, 8)
    assert taken <= Fraction(length, 16)


@pytest.mark.parametrize(
    ("words", "lean", "release"),
    [("leaning 1/2", "1", "1"), ("leaning 2/3", "4/3", "2/3"), ("leaning 1/3", "2/3", "4/3")],
)
def test_shares_are_exact(words, lean, release) -> None:
    """C.P.E. Bach 1753, 2.2 §11 (read): half and two thirds; here of a half note."""
    tones = realized(score([("C", 8, "", False, ""), ("E", 16, "F", False, "")]), [words]).tones
    assert (lean, release) == tuple(str(next(t.duration_q for t in tones if t.role == r)) for r in ("lean", "release"))


@pytest.mark.parametrize(
    ("written", "main", "words", "played"),
    [
        # Clementi 1801, Style, Graces (read): small note and what is left of the main note
        ("half or quarter before whole", 32, "leaning 1/2", ("2", "2")),
        ("quarter or eighth before half", 16, "leaning 1/2", ("1", "1")),
        ("eighth before quarter", 8, "leaning 1/2", ("1/2", "1/2")),
        ("16th before 8th", 4, "leaning 1/2", ("1/4", "1/4")),
        ("quarter before dotted half, one way", 24, "leaning 2/3", ("2", "1")),
        ("quarter before dotted half, the other", 24, "leaning 1/3", ("1", "2")),
        ("leaping 16th before quarter", 8, "leaning 1/8", ("1/8", "7/8")),
        ("16th before half", 16, "leaning 1/8", ("1/4", "7/4")),
    ],
)
def test_clementis_printed_pairs(written, main, words, played) -> None:
    """Each printed pair as exact fractions of a quarter note."""
    tones = realized(score([("E", main, "F", False, "")]), [words]).tones
    assert played == tuple(str(tone.duration_q) for tone in tones), written


def test_musicxml_percentage_of_the_following_note() -> None:
    """MusicXML 4.0's own example (read): 33 % of an eighth of 8 divisions is 2.64, and 5.36 are left."""
    tones = realized(score([("E", 8, "F", False, "")]), ["leaning 33/100"]).tones
    assert [fraction_of("2.64") / 8, fraction_of("5.36") / 8] == [tone.duration_q for tone in tones]


def test_musicxml_trill_sound_defaults() -> None:
    """Four beats, the second at 25 %, the last at 75 % (read): onsets 0, 100, 200, 300 of 400."""
    words = "trill from above of 4 notes the second at 25 % the last at 75 %"
    tones = realized(score([("E", 8, "", True, "")]), [words]).tones
    assert [0, 100, 200, 300] == [tone.onset_q * 400 for tone in tones]


@pytest.mark.parametrize(
    ("words", "start", "end"),
    [
        ("trill from above with termination", "FE", "DE"),  # C.P.E. Bach 1753, 2.3 §5-6 (read)
        ("trill from above without termination", "FE", "FE"),
        ("trill from the main note without termination", "EF", "FE"),  # Hummel 1828 (memory)
    ],
)
def test_trills_begin_and_end_as_their_reading_says(words, start, end) -> None:
    """The first two and the last two notes of a trill on E; all of one length, filling the note."""
    tones = realized(score([("E", 16, "", True, "")]), [words]).tones
    letters = "".join(tone.pitch.step for tone in tones)
    assert (start, end) == (letters[:2], letters[-2:])
    assert (1, Fraction(2)) == (len({t.duration_q for t in tones}), sum(t.duration_q for t in tones))


def test_auxiliaries_obey_the_key_and_the_bar() -> None:
    """In F major the trill on A goes to B flat; after a B natural in the bar it goes to B natural."""
    flat = realized(score([("A", 16, "", True, "")], key=-1), ["trill from above without termination"]).tones
    natural = realized(score([("B", 8, "", False, ""), ("A", 16, "", True, "")], key=-1), ["trill from above"]).tones
    assert ("Bb5", "B5") == (flat[0].pitch.name, natural[1].pitch.name)


def test_nothing_before_the_start() -> None:
    """A passing grace at the very start is played short, on the beat, and that is said."""
    done = realized(score([("E", 16, "F", False, "")]), ["before"])
    assert ("short", Fraction(0)) == (done.tones[0].role, done.tones[0].onset_q)
    assert "no note before it" in done.notices[0][1]


def test_short_keeps_its_milliseconds_in_slow_tempo() -> None:
    """C.P.E. Bach 1753, 2.2 §13 (read): short ones stay short even in slow tempo: 75 ms at 60 and at 30."""
    music = score([("E", 16, "F", False, "")])
    for qpm in (60, 30):
        (first, *_) = realized(music, ["short"], Tempo(((Fraction(0), Fraction(qpm)),))).tones
        assert 75 == first.duration_q * 60_000 / qpm


def test_before_a_rest_the_resolution_goes_into_the_rest() -> None:
    """C.P.E. Bach 1753, 2.2 §12 (read in part): the lean takes the note, its release sounds in the rest."""
    tones = realized(score([("E", 8, "F", False, ""), ("R", 8, "", False, "")]), ["leaning 1"]).tones
    assert [("lean", 0, 1), ("release", 1, 1)] == [(t.role, t.onset_q, t.duration_q) for t in tones]
