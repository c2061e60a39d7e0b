"""Each rule of free embellishment: what keeps it and what breaks it. Sources stand in `RULES`, read or from memory."""

from typing import Any, TypedDict

import pytest
from lxml import etree

from appui.embellish.case import Case, case_of
from appui.embellish.model import Draft, DraftNote, Place, Wish
from appui.embellish.rules import RULES, faults, parallel
from appui.exact import Fraction, fraction_of
from appui.harmony.ground import Footing, Ground
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.plan.embellishment import Span
from appui.score.pitch import parse_pitch
from tests.embellish.pieces import interpretation, xml

Q = Fraction
#  C and G7 in 4/4, 60 quarters a minute; the solo is long and bare
SOLO, BASS = "C5h E5h | D5w | C5w", "C3+E4+G4w | G2+B3+F4w | C3+E4+G4w"
SIX_FOUR, SIX_FOUR_BASS = "F5w | G5w^ | D5w | C5w", "F3+A3+C4w | G2+C4+E4w | G2+B3+F4w | C3+E4+G4w"
HALF, HALF_BASS = "C5w | D5w^ | C5w", "C3+E4+G4w | G2+B3+D4w | C3+E4+G4w"


class Where(TypedDict):
    """The words of `case` for a place that several tests look at."""

    solo: str
    bass: str
    kind: str
    first: int
    last: int


def case(solo: str, bass: str, kind: str, first: int, last: int, *, wish: Wish | None = None, **options: Any) -> Case:
    """A place over some events of the solo."""
    held = kind in ("cadenza", "lead-in", "fermata")
    place = Place("oboe.1.1", kind, Span(0, 0, first, last, held), "made up", "made up")
    return case_of(interpretation(solo, bass, **options), place, wish or Wish())


def notes(text: str) -> tuple[DraftNote, ...]:
    """``C5:1/4`` a run, ``C5:1/4:peak`` marked; ``:tr`` after it a trill; the first note is the printed one."""
    found = []
    for place, word in enumerate(text.split()):
        name, value, *marks = word.split(":")
        mark = next((each for each in marks if each != "tr"), "run" if place else "printed")
        found.append(DraftNote(None if name == "r" else parse_pitch(name), 4 * fraction_of(value), mark, "tr" in marks))
    return tuple(found)


def broken(one: Case, text: str, in_time: str = "", fits: str = "") -> list[str]:
    """The names of the rules that a draft breaks."""
    draft = Draft(notes(text), notes(in_time) if in_time else (), ("made up",), frozenset(fits.split()))
    return [name for name, _ in faults(one, draft)]


IN_TIME: Where = {"solo": SOLO, "bass": BASS, "kind": "long-notes", "first": 0, "last": 0}
CADENZA: Where = {"solo": SIX_FOUR, "bass": SIX_FOUR_BASS, "kind": "cadenza", "first": 1, "last": 1}
LEAD_IN: Where = {"solo": HALF, "bass": HALF_BASS, "kind": "lead-in", "first": 1, "last": 1}
GOOD = {
    "in time": (IN_TIME, "C5:3/8 D5:1/8"),
    "cadenza": (CADENZA, "G5:1/2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8"),
    "lead-in": (LEAD_IN, "D5:1/2 G5:1/4:peak F5:1/8 E5:1/8 D5:1/4:arrival"),
}


def test_every_rule_has_a_source_that_says_how_it_is_known():
    """Read, from memory, or common practice; nothing else."""
    assert {"read", "memory", "common practice"} == {rule.known for rule in RULES}
    assert all(rule.source for rule in RULES)


@pytest.mark.parametrize("name", GOOD)
def test_what_keeps_the_rules_has_no_fault(name):
    """A plain filling, a small cadenza, a small lead-in."""
    where, text = GOOD[name]
    in_time = "D5:1:arrival:tr" if name == "cadenza" else ""
    assert [] == broken(case(**where), text, in_time)


@pytest.mark.parametrize(
    ("rule", "where", "text", "in_time"),
    [
        # Tartini, memory: the harmony's notes are kept on the beat
        ("structure", IN_TIME, "D5:1/4:run E5:1/4", ""),
        ("structure", CADENZA, "E5:1/2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8", "D5:1:arrival:tr"),
        # Tartini, memory: passing notes and turns between the written notes
        ("strong parts", IN_TIME, "C5:3/8 F5:1/8:chord", ""),
        ("strong parts", IN_TIME, "C5:1/4 A5:1/4", ""),
        ("strong parts", IN_TIME, "C5:1/4 D5:1/8 r:1/16 E5:1/16", ""),
        # Türk 1789, V §4, read: strictly the given harmony
        ("given harmony", CADENZA, "G5:1/2 B5:1/4:peak A5:1/8 G5:1/8 F5:1/8 E5:1/8", "D5:1:arrival:tr"),
        ("given harmony", CADENZA, "G5:1/2 C6:1/4:peak A5:1/4 F5:1/8 E5:1/8", "D5:1:arrival:tr"),
        # Türk 1789, V §11, read: ended by a trill right before the final note
        ("last trill", CADENZA, "G5:1/2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8", ""),
        # common practice, no source
        ("out of the dominant", LEAD_IN, "D5:1/2 G5:1/4:peak F5:1/8 E5:1/8 D5:1/8 G5:1/4:arrival", ""),
        # Agricola 1757, memory: one breath; the seconds are a design value
        ("one breath", CADENZA, "G5:2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8", "D5:1:arrival:tr"),
        ("place to breathe", CADENZA, "G5:7/4 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8", "D5:1:arrival:tr"),
        # C.P.E. Bach 1753, 2.1 §19, read: more in slow pieces and long notes; the numbers are design values
        ("amount", IN_TIME, "C5:1/16 D5:1/16 C5:1/16 B4:1/16 C5:1/16 D5:1/16 C5:1/32 B4:1/32 C5:1/32 D5:1/32", ""),
        # the player's range, and comfort: common practice, no source
        ("compass", IN_TIME, "C5:1/4 E6:1/8:chord C5:1/8", ""),
        ("leaps", IN_TIME, "C5:1/4 A5:1/8 D5:1/8", ""),
        ("speed", IN_TIME, "C5:31/64 D5:1/64", ""),
        ("spelling", IN_TIME, "C5:3/8 Db5:1/8", ""),
        # a semitone below that has the chord's own note beside it (common practice, no source)
        (
            "spelling",
            {**IN_TIME, "bass": "D3+F#4+A4w | G2+B3+F4w | C3+E4+G4w", "solo": "D5h G5h | D5w | C5w"},
            "D5:3/8 F5:1/16 F##5:1/16",
            "",
        ),
        # a seventh goes on by step (common practice, no source)
        ("sevenths", {**IN_TIME, "first": 2, "last": 2}, "D5:3/4 F5:1/4", ""),
        (
            "one peak",
            CADENZA,
            "G5:1/4 C6:1/4:peak G5:1/8 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8",
            "D5:1:arrival:tr",
        ),
        # a cadenza comes down from its peak before it ends (common practice, no source)
        ("one peak", CADENZA, "G5:1/2 E5:1/8 F5:1/8 G5:1/8 A5:1/8 B5:1/8", ""),
        # no scale and the way back over it (common practice, no source)
        (
            "no exercise",
            CADENZA,
            "G5:1/2 F5:1/8 E5:1/8 D5:1/8 C5:1/8 D5:1/8 E5:1/8 F5:1/8 G5:1/8 C6:1/4:peak E5:1/8",
            "D5:1:arrival:tr",
        ),
        (
            "no exercise",
            {**CADENZA, "solo": "F5w | C5w^ | D5w | C5w"},
            "C5:1/2 D5:1/8 E5:1/8 F5:1/8 G5:1/8 A5:1/8 B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8",
            "D5:1:arrival:tr",
        ),
        # the leading note: not against the bass's, and no peak that leaps away (common practice, no source)
        (
            "leading note",
            {**IN_TIME, "bass": "B2+D4+F4+G4w | C3+E4+G4w | C3+E4+G4w", "solo": "D5h G5h | E5w | C5w"},
            "D5:1/4 B4:1/4",
            "",
        ),
        ("leading note", LEAD_IN, "D5:1/2 B5:1/4:peak G5:1/8 F5:1/8 E5:1/8 D5:1/4:arrival", ""),
        # a printed leading note keeps its resolution (common practice, no source)
        (
            "resolution",
            {
                **IN_TIME,
                "bass": "G2+D4+F4h C3+E4+G4h | C3+E4+G4w | C3+E4+G4w",
                "solo": "B4h C5h | E5w | C5w",
                "last": 1,
            },
            "B4:1/2 G4:1/4 C5:1/4:printed",
            "",
        ),
        # a diminished fourth (common practice, no source)
        (
            "leaps",
            {
                **IN_TIME,
                "bass": "A2+C4+E4h E3+G#3+B3h | A2+C4+E4w | A2+C4+E4w",
                "solo": "C5h B4h | A4w | A4w",
                "last": 1,
            },
            "C5:1/2 G#4:1/4 B4:1/4",
            "",
        ),
        ("readable", IN_TIME, "C5:5/16 D5:3/16", ""),
        ("readable", IN_TIME, "C5:8/17 D5:1/34 C5:1/34 D5:1/34", ""),
        # C.P.E. Bach 1753, 2.3 §19, read, of trills and turns
        ("augmented seconds", IN_TIME, "C5:1/4 D#5:1/4", ""),
    ],
)
def test_what_breaks_a_rule_is_told(rule, where, text, in_time):
    """Each rule by name; a draft may break others besides."""
    assert rule in broken(case(**where), text, in_time)


def test_in_what_is_sad_nothing_runs_and_nothing_leaps_widely():
    """Türk 1789, V §4 (read): it must suit the character."""
    sad = case(**CADENZA, words="Adagio mesto")
    assert "character" in broken(
        sad, "G5:1/2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8", "D5:1:arrival:tr", fits="lively"
    )
    assert "character" in broken(sad, "G5:1/2 E4:1/4:low F4:1/8 E5:1/8", "D5:1:arrival:tr")


def test_a_lead_in_may_not_end_where_the_theme_is_far():
    """It arrives on the first note of what follows (common practice, no source)."""
    one = case(**LEAD_IN)
    assert "out of the dominant" not in broken(one, "D5:3/4 C5:1/8 B4:1/4:arrival")


def test_the_dots_of_the_pieces_own_figure_are_readable():
    """They are on the page already; others without a short note beside them are too many (common practice)."""
    text = "G5:1/2 C5:3/16{0} D5:1/8{0} E5:3/16{0} F5:1/8{0} G5:3/16{0} E5:1/8{0}"
    one = case(**CADENZA)
    assert "readable" in broken(one, text.format(""), "D5:1:arrival:tr")
    assert "readable" not in broken(one, text.format(":figure"), "D5:1:arrival:tr")


def test_a_scale_over_a_peak_that_is_gone_round_is_no_exercise():
    """Up by leap and down by step, or three notes there and back (common practice, no source)."""
    text = "G5:1/2 F5:1/8 E5:1/8 D5:1/8 E5:1/8 F5:1/8 G5:1/8 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8"
    assert "no exercise" not in broken(case(**CADENZA), text, "D5:1:arrival:tr")


def test_a_cadenza_may_rise_by_step_into_its_trill():
    """The trill's note is then its highest; by leap it is not (common practice, no source)."""
    step, leap = "C5:1/2 A4:1/8 B4:1/8 C5:1/8", "G4:1/2 A4:1/8 B4:1/8"
    assert "one peak" not in broken(case(**CADENZA), step, "D5:1:arrival:tr")
    assert "one peak" in broken(case(**CADENZA), leap, "D5:1:arrival:tr")


def test_a_leading_note_may_pass_over_the_basss_or_go_on_by_step():
    """By step and off the beat it is a passing note; a peak that steps down is a scale (common practice, no source)."""
    over: Where = {**IN_TIME, "bass": "B2+D4+F4+G4w | C3+E4+G4w | C3+E4+G4w", "solo": "D5h G5h | E5w | C5w"}
    assert "leading note" not in broken(case(**over), "D5:1/4 C5:1/8 B4:1/8")
    assert "leading note" not in broken(
        case(**LEAD_IN), "D5:1/2 B5:1/4:peak A5:1/8 G5:1/8 F5:1/8 E5:1/8 D5:1/4:arrival"
    )


@pytest.mark.parametrize(("shared", "faulty"), [(0.5, True), (1.0, False)])
def test_a_doubtful_chord_is_no_excuse_to_leave_a_foreign_note_by_leap(monkeypatch, shared, faulty):
    """A over C, where A minor may begin on the second half of the beat: the chord of the beat counts as well."""
    real = Ground.at

    def at(self: Ground, onset_q: Fraction) -> Footing | None:
        found = real(self, onset_q)
        if found is None or onset_q % 1 != Q(1, 2):
            return found
        return found._replace(label="Am", letters=("A", "C", "E"), root=3, chance=0.5, shared=shared)

    monkeypatch.setattr(Ground, "at", at)
    assert faulty == ("strong parts" in broken(case(**IN_TIME), "C5:1/8 E5:1/8 G5:1/8 A5:1/8"))


def test_strings_may_take_two_breaths():
    """Memory: the cadenza within one breath is the singer's and the wind player's."""
    long = "G5:2 C6:1/4:peak B5:1/8 A5:1/8 G5:1/8 F5:1/8 E5:1/8"
    assert "one breath" not in broken(case(**CADENZA, name="Violin"), long, "D5:1:arrival:tr")


@pytest.mark.parametrize(
    ("found", "upper", "lower"),
    [
        ("fifths", "G4 A4", "C3 D3"),
        ("octaves", "E5 F5", "E3 F3"),
        (None, "G4 G4", "C3 C3"),
        ("fifths", "G4 A4", "C4 D3"),
        (None, "E5 F5", "C3 D3"),
        ("fifths", "G4 C5", "C3 F2"),
        (None, "G4 A4", "C3 F3"),
    ],
)
def test_parallels_are_found_as_music21_finds_them(found, upper, lower):
    """music21's VoiceLeadingQuartet is the second opinion (read)."""
    from music21.voiceLeading import VoiceLeadingQuartet

    from tests.embellish.proposal_laws import as_music21

    one, two, three, four = map(parse_pitch, f"{upper} {lower}".split())
    quartet = VoiceLeadingQuartet(as_music21(one), as_music21(two), as_music21(three), as_music21(four))
    assert found == parallel((one, two), (three, four))
    assert (found == "fifths") == quartet.parallelFifth()
    assert (found == "octaves") == quartet.parallelOctave()


def test_parallels_with_the_bass_are_refused():
    """From one beat to the next (common practice, no source): E F over C D makes none, C D over C D octaves."""
    one = case("C5h E5h | E5w", "C3+E4+G4q D3+F4+A4q C3+E4+G4h | C3+E4+G4w", "long-notes", 0, 0)
    assert "parallels" in broken(one, "C5:1/4 D5:1/4")


def test_parallels_of_the_print_are_not_the_players():
    """What the composer wrote stays."""
    one = case("C5q D5q E5h | E5w", "C3+E4+G4q D3+F4+A4q C3+E4+G4h | C3+E4+G4w", "long-notes", 0, 1)
    assert "parallels" not in broken(one, "C5:1/4 D5:1/4:printed")


def test_small_notes_that_follow_are_left_time():
    """They may be played before the beat and take it from the last note added (common practice, no source)."""
    grace = "<note><grace/><pitch><step>F</step><octave>5</octave></pitch><voice>1</voice><type>eighth</type></note>"
    text = xml("C5w | E5w | C5w", BASS).replace("<measure number='2'>", "<measure number='2'>" + grace, 1)
    made = interpret_analysis(Analysis(score_of(etree.fromstring(text), "x", "0" * 64)), Wishes(solo="1"))
    one = case_of(made, Place("oboe.1.1", "long-notes", Span(0, 0, 0, 0), "made up", "made up"), Wish())
    assert "room" in broken(one, "C5:15/16 D5:1/16")
    assert "room" not in broken(one, "C5:3/4 D5:1/4")
