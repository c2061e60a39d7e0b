"""A part written for another instrument: it sounds as before, and is spelled as its player expects."""

from pathlib import Path

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from appui.errors import UsageError
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import read_score, score_of
from appui.musicxml.read.source import load
from appui.musicxml.write.partwise import part_element, partwise
from appui.musicxml.write.transpose import instrument_in, transpose_letter, transpose_part
from appui.score.model import Key
from appui.score.pitch import Transposition
from tests.there import there

CORPUS = Path(music21.__file__).parent / "corpus"
CLARINET = CORPUS / "weber/concertino_clarinet.mxl"
QUARTET = CORPUS / "haydn/opus74no1/movement1.mxl"
KEYS = ("Bb", "A", "F", "Eb", "Eb high", "D", "D high", "G", "C", "Ab", "Db high")


def part(*, fifths: int = 0, notes: str, transpose: str = ""):
    """A part of one bar; each note ``F#`` or ``F#:sharp`` with the accidental printed before it."""
    inside = ""
    for word in notes.split():
        letter, _, accidental = word.partition(":")
        alter = letter.count("#") - letter[1:].count("b")
        printed = f"<accidental>{accidental}</accidental>" if accidental else ""
        inside += (
            f"<note><pitch><step>{letter[0]}</step><alter>{alter}</alter><octave>5</octave></pitch>"
            f"<duration>1</duration><type>quarter</type>{printed}</note>"
        )
    return etree.fromstring(
        f"<part id='P1'><measure number='1'><attributes><divisions>1</divisions><key><fifths>{fifths}</fifths></key>"
        f"{transpose}</attributes>{inside}</measure></part>"
    )


def written(element) -> list[str]:
    """The notes as ``G#5:sharp``."""
    return [
        f"{note.findtext('pitch/step')}{note.findtext('pitch/alter') or ''}{note.findtext('pitch/octave')}"
        + (f":{accidental}" if (accidental := note.findtext("accidental")) else "")
        for note in element.iter("note")
    ]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("C", (0, 0)), ("Bb", (-1, -2)), ("in B♭", (-1, -2)), ("a", (-2, -3)), ("G", (-3, -5)), ("F", (-4, -7)),
        ("Eb", (-5, -9)), ("eb high", (2, 3)), ("D high", (1, 2)), ("C high", (7, 12)),
    ],
)  # fmt: skip
def test_an_instrument_sounds_in_its_key(words, expected) -> None:
    """The note that sounds where C is read, as for clarinets in B flat and A, alto flute, horn, piccolo."""
    assert Transposition(*expected) == instrument_in(words)


@pytest.mark.parametrize("words", ["", "H", "Bbb", "up a tone", "Bb low", "B flat major"])
def test_other_words_are_refused(words) -> None:
    """With what would do."""
    with pytest.raises(UsageError, match="is no key of an instrument: write the note that sounds where C is read"):
        instrument_in(words)


def test_signature_and_accidentals_go_along() -> None:
    """For a clarinet in B flat a tone higher: a natural of F major is a sharp of G major."""
    one = part(fifths=-1, notes="F A B:natural Bb:flat F#:sharp")
    transpose_part(one, instrument_in("Bb"))
    assert "1" == one.findtext(".//fifths")
    assert ["G5", "B5", "C16:sharp", "C6:natural", "G15:sharp"] == written(one)
    assert ("-1", "-2") == (one.findtext(".//transpose/diatonic"), one.findtext(".//transpose/chromatic"))


def test_too_many_sharps_are_spelled_as_flats() -> None:
    """From six sharps a tone up is eight: four flats instead, and the notes with them."""
    one = part(fifths=6, notes="F# A#")
    transpose_part(one, instrument_in("Bb"))
    assert "-4" == one.findtext(".//fifths")
    assert ["A-15", "C6"] == written(one)


def test_a_part_that_transposes_already_is_read_from_what_sounds() -> None:
    """From a clarinet in B flat to one in A: a semitone up; to C, and nothing is said of a transposition."""
    own = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    one = part(fifths=-1, notes="F", transpose=own)
    transpose_part(one, instrument_in("A"))
    assert ("-6", ["G-15"]) == (one.findtext(".//fifths"), written(one))
    one = part(fifths=-1, notes="F", transpose=own)
    transpose_part(one, instrument_in("C"))
    assert ("-3", ["E-15"]) == (one.findtext(".//fifths"), written(one))
    assert one.find(".//transpose") is None


def test_chord_names_and_marks_of_ornaments_go_along() -> None:
    """B flat 7 over D is C 7 over E; a trill with a natural above E in B flat major has a sharp in C."""
    one = part(fifths=-2, notes="D")
    measure = one.find("measure")
    measure.append(
        etree.fromstring(
            "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root><kind>dominant</kind>"
            "<bass><bass-step>D</bass-step></bass></harmony>"
        )
    )
    measure.find("note").append(
        etree.fromstring(
            "<notations><ornaments><trill-mark/><accidental-mark>natural</accidental-mark></ornaments></notations>"
        )
    )
    transpose_part(one, instrument_in("Bb"))
    assert ("C", None, "E") == tuple(one.findtext(f".//{tag}") for tag in ("root-step", "root-alter", "bass-step"))
    assert "sharp" == one.findtext(".//accidental-mark")
    assert "F#" == transpose_letter("E", instrument_in("Bb"))


@pytest.mark.parametrize("path", [CLARINET, QUARTET], ids=lambda path: path.stem)
@pytest.mark.parametrize("key", KEYS)
def test_what_sounds_stays(path, key) -> None:
    """Every note of a movement, small ones too; what is written is what the instrument's player reads."""
    score = read_score(path)
    solo = score.parts[0]
    root = partwise(load(path).root)
    transpose_part(part_element(root, solo), instrument_in(key))
    made = score_of(root, "made").parts[0]
    assert max(abs(each.fifths) for each in made.keys) <= 7
    for one, other in zip(solo.voices, made.voices, strict=True):
        for event, again in zip(one.events, other.events, strict=True):
            midi = [note.sounding.midi for note in event.notes]
            assert midi == [note.sounding.midi for note in again.notes]
            assert [p.midi for s in event.small_before for p in s.sounding] == [
                p.midi for s in again.small_before for p in s.sounding
            ]
    low = instrument_in(key).chromatic
    note, moved = (next(e for e in part.voices[0].events if e.notes).notes[0] for part in (solo, made))
    assert note.sounding.midi - low == moved.written.midi


@given(
    st.integers(-7, 7),
    st.sampled_from(KEYS),
    st.lists(st.sampled_from("C D E F G A B F# Bb C# Eb".split()), min_size=1),
)
def test_accidentals_stand_where_they_stood(fifths, key, letters) -> None:
    """A note differs from its new signature as it did from the old one."""
    one = part(fifths=fifths, notes=" ".join(letters))
    before = _differences(one)
    transpose_part(one, instrument_in(key))
    assert before == _differences(one)


def _differences(element) -> list[int]:
    key = Key(Fraction(0), int(element.findtext(".//fifths")))
    return [
        int(note.findtext("pitch/alter") or 0) - key.alter(note.findtext("pitch/step")) for note in element.iter("note")
    ]


def test_an_interpretation_reads_as_its_player_does() -> None:
    """Places, verdicts and sound are the same, and a plan for the score still is; written pitches are the player's."""
    from appui.demo import demo_score

    plain, clarinet = interpret(demo_score()), interpret(demo_score(), Wishes(transpose="Bb"))
    assert plain.score.sha256 == clarinet.score.sha256
    assert [sign.place for sign in plain.signs] == [sign.place for sign in clarinet.signs]
    assert [plain.choices[s.place].reading for s in plain.signs] == [
        clarinet.choices[s.place].reading for s in plain.signs
    ]
    one, other = (there(each.sign_at("oboe.2.1").main_note(each.score)) for each in (plain, clarinet))
    assert (one.sounding, one.written.name, other.written.name) == (other.sounding, "C6", "D6")
