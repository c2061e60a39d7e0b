"""Verdicts in the textures of the repertory. Expected values: common practice, no source, unless said."""

from dataclasses import replace

import pytest

from appui.harmony.analyse import analyse
from appui.harmony.verdicts import verdict_of
from appui.score.model import SmallNote
from appui.score.pitch import Pitch
from appui.score.signs import find_signs


def verdicts(score):
    """The verdicts on all small notes, in order of part and time."""
    harmony = analyse(score)
    return [verdict_of(harmony, sign) for sign in find_signs(score) if sign.small]


#  I V7 | I in C under E5, then F before E over the last chord: a fourth resolving to the third
PATTERNS = {
    "blocks": "C3+C4+E4+G4:2 G2+B3+F4+G4:2 | C3+C4+E4+G4:4",
    "alberti": ("C3:1/2 G3:1/2 E3:1/2 G3:1/2 B2:1/2 G3:1/2 F3:1/2 G3:1/2 | " + "C3:1/2 G3:1/2 E3:1/2 G3:1/2 " * 2),
    "arpeggio": ("C3:1/2 E3:1/2 G3:1/2 C4:1/2 G2:1/2 B2:1/2 D3:1/2 F3:1/2 | " + "C3:1/2 E3:1/2 G3:1/2 C4:1/2 " * 2),
    "tremolo": ("C3+E3:1/4 G3+C4:1/4 " * 4 + "B2+D3:1/4 F3+G3:1/4 " * 4 + "| " + "C3+E3:1/4 G3+C4:1/4 " * 8),
    "repeated": ("C3+E4+G4:1/2 " * 4 + "G2+F4+B4:1/2 " * 4 + "| " + "C3+E4+G4:1/2 " * 8),
    "bass and after-beats": "C3:1 C4+E4+G4:1 G2:1 B3+F4+G4:1 | C3:1 C4+E4+G4:1 C3:1 C4+E4+G4:1",
    "rest and after-beats": "r:1 C4+E4+G4:1 r:1 B3+F4+G4:1 | r:1 C4+E4+G4:1 r:1 C4+E4+G4:1",
    "thirds": "C4+E4:2 B3+F4:2 | C4+E4:4",
    "two-part": "C3:1 E3:1 G3:1 B2:1 | C3:1 E3:1 G3:1 C3:1",
}


@pytest.mark.parametrize("shift", [0, 3, 8])
@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_dissonance_in_every_texture(written, major_up, pattern, shift) -> None:
    """F before E over C is a dissonance that leans however the chord is laid out."""
    (verdict,) = verdicts(written({"Oboe": "G5:2 D5:2 | F5>E5:4", "Piano": PATTERNS[pattern]}, major_up[shift]))
    assert (("dissonance",), (True,)) == (verdict.members, verdict.leans)


@pytest.mark.parametrize("shift", [0, 3, 8])
@pytest.mark.parametrize("pattern", PATTERNS)
def test_a_member_in_every_texture(written, major_up, pattern, shift) -> None:
    """G before E over C is a member of the chord however it is laid out."""
    (verdict,) = verdicts(written({"Oboe": "G5:2 D5:2 | G5>E5:4", "Piano": PATTERNS[pattern]}, major_up[shift]))
    assert (("chord member",), (False,)) == (verdict.members, verdict.leans)


def test_the_bass_of_a_figure_holds(written) -> None:
    """At the second half of the first beat only the G of an Alberti figure sounds; its bass is still C."""
    music = {"Oboe": "E5:1/2 F5>E5:1/2 G5:1 G5:2 | C5:4", "Piano": PATTERNS["alberti"]}
    (verdict,) = verdicts(written(music))
    assert ("C", "root position") == (verdict.bass, verdict.words.split(", ")[1].split(":")[0])


def test_a_dominant_over_a_tonic_pedal(written) -> None:
    """Over a held C the notes B D F G are the dominant's: E before D leans."""
    held = {
        "Oboe": "C5:2 E5>D5:2 | C5:4",
        "Violin": "E4+G4:2 F4+B4:2 | E4+G4:4",
        "Viola": "C4:2 D4+G4:2 | C4:4",
        "Cello": "C3~:4 | ^C3:4",
    }
    (verdict,) = verdicts(written(held))
    assert (("dissonance",), (True,)) == (verdict.members, verdict.leans)
    assert "G" == verdict.root


def test_a_suspension_is_not_the_harmony(written) -> None:
    """C is held over from the tonic against D F# A: B before A leans, C does not make it a chord of C."""
    music = {
        "Oboe": "C6:2 B5>A5:2 | G5:4",
        "Violin": "G4+C5~:2 A4+^C5:2 | G4+B4:4",
        "Cello": "C3:2 D3+F#3:2 | G2:4",
    }
    (verdict,) = verdicts(written(music))
    assert ("D", ("dissonance",)) == (verdict.root, verdict.members)


def test_a_neighbour_chord_over_a_held_bass(written) -> None:
    """F A over a held C between two C chords: A before G, back on the tonic, is no member."""
    music = {"Oboe": "G5:2 A5:2 | A5>G5:4", "Piano": "C3+E4+G4:2 C3+F4+A4:2 | C3+E4+G4:4"}
    (verdict,) = verdicts(written(music))
    assert ("C", ("dissonance",), (True,)) == (verdict.root, verdict.members, verdict.leans)


def test_ornaments_in_two_parts_at_once(written) -> None:
    """Oboe and flute both have small notes: each is judged by the main notes of the others, not by their small ones."""
    music = {
        "Flute": "E5:2 D5:2 | F5>E5:4",
        "Oboe": "C5:2 B4:2 | D5>C5:4",
        "Bassoon": "G3:2 G3:2 | G3:4",
        "Basso": "C3:2 G2:2 | C3:4",
    }
    first, second = verdicts(written(music))
    assert (("dissonance",), ("dissonance",)) == (first.members, second.members)
    assert ("C", "C") == (first.root, second.root)


def test_a_solo_in_the_bass(written) -> None:
    """A bassoon below the chords: D before C leans over nothing and is still a dissonance."""
    music = {"Bassoon": "G2:2 G2:2 | D3>C3:4", "Piano": "E4+G4+C5:2 F4+B4+D5:2 | E4+G4+C5:4"}
    (verdict,) = verdicts(written(music))
    assert (("dissonance",), (True,), "C") == (verdict.members, verdict.leans, verdict.bass)
    assert "above the bass" not in verdict.words


def test_a_pure_octave_with_the_bass_is_told(written) -> None:
    """C before B over C: an octave, a member; B is a leaning main note."""
    music = {"Oboe": "E5:2 D5:2 | C5>E5:4", "Piano": PATTERNS["blocks"]}
    (verdict,) = verdicts(written(music))
    assert (True, "an octave") == (verdict.octave_with_bass, verdict.bass_interval)


def test_an_augmented_sixth_chord(written) -> None:
    """Ab C Eb F# before G in C minor: the small G before F# leans, and the chord is named by its spelling."""
    music = {
        "Oboe": "G5:2 Eb5:2 | G5>F#5:2 G5:2 | Eb5:4",
        "Piano": "C3+Eb4+G4:2 F3+C4+Ab4:2 | Ab2+C4+Eb4+F#4:2 G2+B3+D4+G4:2 | C3+Eb4+G4:4",
    }
    (verdict,) = verdicts(written(music))
    assert ("Ger6", ("dissonance",), (True,)) == (verdict.roman, verdict.members, verdict.leans)


def test_a_neapolitan_sixth(written) -> None:
    """Db F Ab over F in C minor: C before Db steps up and is no member."""
    music = {
        "Oboe": "Eb5:2 G5:2 | C5>Db5:2 B4:2 | C5:4",
        "Piano": "C3+Eb4+G4:2 G2+F4+B4:2 | F3+F4+Ab4+Db5:2 G3+F4+G4+D5:2 | C3+Eb4+G4:4",
    }
    (verdict,) = verdicts(written(music))
    assert (("Db", "6"), ("dissonance",)) == ((verdict.root, verdict.figure), verdict.members)
    assert "bII6" == verdict.roman


def test_a_secondary_dominant(written) -> None:
    """D F# A C in C: G before F# leans."""
    music = {
        "Oboe": "E5:2 C5:2 | G5>F#5:2 G5:2 | E5:4",
        "Piano": "C3+E4+G4:2 F3+A4+C5:2 | D3+A4+C5:2 G3+F4+B4:2 | C3+E4+G4+C5:4",
    }
    (verdict,) = verdicts(written(music))
    assert ("V7 of V", ("dissonance",), (True,)) == (verdict.roman, verdict.members, verdict.leans)


def test_a_diminished_seventh(written) -> None:
    """B D F Ab in C minor: Ab belongs, G does not."""
    solo, piano = "Eb5:2 {}:2 | Eb5:4", "C3+Eb4+G4:2 B2+D4+F4+Ab4:2 | C3+Eb4+G4:4"
    (inside,) = verdicts(written({"Oboe": solo.format("Ab5>D5"), "Piano": piano}))
    (outside,) = verdicts(written({"Oboe": solo.format("G5>F5"), "Piano": piano}))
    assert (("chord member",), ("dissonance",)) == (inside.members, outside.members)


def test_a_sequence_of_falling_fifths(written) -> None:
    """D G C F and the cadence: each time the upper neighbour of a chord note leans."""
    solo = "G5>F5:2 C5>B4:2 | F5>E5:2 B4>A4:2 | E5>D5:2 C5:2"
    piano = "D3+A3+C4+F4:2 G3+B3+D4+F4:2 | C3+G3+B3+E4:2 F3+A3+C4+E4:2 | G2+D4+F4+B4:2 C3+E4+G4:2"
    found = verdicts(written({"Oboe": solo, "Piano": piano}))
    assert [("dissonance",)] * 5 == [verdict.members for verdict in found]
    assert ["D", "G", "C", "F", "G"] == [verdict.root for verdict in found]


def test_after_notes_are_judged_where_they_sound_and_never_lean(written) -> None:
    """After a whole note over which the chord changes, the after-notes are judged by the second chord."""
    score = written({"Oboe": "E5:2 G5:2 | C5:2 E5:2", "Piano": "C3+E4+G4:2 C3+E4+G4:2 | F3+A4+C5:2 C3+E4+G4:2"})
    harmony = analyse(score)
    (sign,) = [s for s in find_signs(_with_after_note(score)) if s.kind == "after-notes"]
    verdict = verdict_of(analyse(_with_after_note(score)), sign)
    assert (("chord member",), (False,)) == (verdict.members, verdict.leans)
    assert "F" == verdict.root
    assert "F" == harmony.chord_at(score.bars[1].onset_q)[0].root


def _with_after_note(score):
    """The first note of bar 2 with a small F after it."""
    part = score.parts[0]
    events = part.voices[0].events
    small = SmallNote((Pitch("F", 0, 5),), (Pitch("F", 0, 5),))
    voice = part.voices[0]._replace(events=(*events[:2], events[2]._replace(small_after=(small,)), *events[3:]))
    return replace(score, parts=(replace(part, voices=(voice,)), *score.parts[1:]))


def test_where_the_others_rest_for_the_bar_the_verdict_is_doubtful(written) -> None:
    """The chord is carried on, said so, and never called sure."""
    music = {"Oboe": "E5:2 D5:2 | F5>E5:4 | E5:4", "Piano": "C3+E4+G4:2 G2+F4+B4:2 | r:4 | C3+E4+G4:4"}
    (verdict,) = verdicts(written(music))
    assert (True, ()) == (verdict.doubtful, verdict.evidence)
    assert verdict.confidence <= 0.7
    assert "taken from what is around" in verdict.words


def test_far_from_any_accompaniment_the_answer_is_unknown(written) -> None:
    """Three bars alone: no harmony near, no verdict."""
    music = {"Oboe": "E5:4 | E5:4 | F5>E5:4 | E5:4 | E5:4", "Piano": "C3+E4+G4:4 | r:4 | r:4 | r:4 | C3+E4+G4:4"}
    (verdict,) = verdicts(written(music))
    assert (("unknown",), (None,), 0.0, False) == (verdict.members, verdict.leans, verdict.confidence, verdict.known)


def test_a_small_chord_is_judged_by_its_least_likely_note(written) -> None:
    """A small chord of C and D over C E G is a dissonance."""
    score = written({"Oboe": "E5:2 D5:2 | D5>E5:4", "Piano": PATTERNS["blocks"]})
    part = score.parts[0]
    event = part.voices[0].events[2]
    both = (Pitch("C", 0, 5), Pitch("D", 0, 5))
    small = event.small_before[0]._replace(written=both, sounding=both)
    voice = part.voices[0]._replace(events=(*part.voices[0].events[:2], event._replace(small_before=(small,))))
    chordal = replace(score, parts=(replace(part, voices=(voice,)), *score.parts[1:]))
    (verdict,) = verdicts(chordal)
    assert ("dissonance",) == verdict.members
    assert verdict.words.startswith("C5+D5 against")


def test_unison_passages_are_not_judged_with_certainty(written) -> None:
    """All in unison on C D E F: what is said of a small note is a guess, said so, and never surer than .9."""
    line = "C{0}:1 D{0}:1 E{0}:1 {1}F{0}:1"
    music = {"Oboe": line.format(5, "G5>"), "Violin": line.format(4, ""), "Cello": line.format(3, "")}
    (verdict,) = verdicts(written(music))
    assert verdict.confidence <= 0.9
    assert "all play in unison" in verdict.words


def test_a_retardation_is_not_the_harmony(written) -> None:
    """B is held over into C E G and goes up: F before E leans over C, and B makes it no chord of G."""
    music = {
        "Oboe": "G5:2 G5:2 | {}>E5:4 | E5:4",
        "Flute": "C5:2 B4~:2 | ^B4:1 C5:1 C5:2 | C5:4",
        "Violin": "E4+G4:2 D4+F4:2 | C4+G4:4 | C4+G4:4",
        "Cello": "C3:2 G3:2 | C3:4 | C3:4",
    }
    (out,), (inside,) = (verdicts(written(music | {"Oboe": music["Oboe"].format(small)})) for small in ("F5", "G5"))
    assert ("C", ("dissonance",), ("chord member",)) == (out.root, out.members, inside.members)


def test_a_half_diminished_seventh(written) -> None:
    """D F A flat C in C minor: its seventh before A flat belongs, G and E flat do not."""
    solo, piano = "C5:2 Bb4:2 | {}:2 B4:2 | C5:4", "C3+Eb4+G4:4 | D3+F4+Ab4+C5:2 G2+F4+B4+D5:2 | C3+Eb4+G4:4"
    found = [
        verdicts(written({"Oboe": solo.format(words), "Piano": piano}))[0]
        for words in ("C5>Ab4", "F5>D5", "G5>F5", "Eb5>D5")
    ]
    assert [("chord member",), ("chord member",), ("dissonance",), ("dissonance",)] == [one.members for one in found]
    assert {("half-diminished", "iiø7")} == {(one.quality, one.roman) for one in found}


@pytest.mark.parametrize(
    ("small", "wanted"), [("Bb5>A5", "dissonance"), ("G5>F5", "dissonance"), ("C6>A5", "chord member")]
)
def test_on_a_neighbour_chord_over_a_held_bass(written, small, wanted) -> None:
    """On the F A over a held C its notes F, A and C are the chord, G and B flat are not."""
    music = {"Oboe": f"G5:2 {small}:2 | G5:4", "Piano": "C3+E4+G4:2 C3+F4+A4:2 | C3+E4+G4:4"}
    (verdict,) = verdicts(written(music))
    assert ("F", (wanted,)) == (verdict.root, verdict.members)


def test_the_harmony_changes_on_the_beat(written) -> None:
    """E belongs to the C before, and leans into D over the G7 that comes with it."""
    music = {
        "Oboe": "E5:1 E5:1 G5:1 E5>D5:1 | E5:4",
        "Piano": "C3+E4+G4:1 C3+E4+G4:1 C3+E4+G4:1 G2+F4+B4:1 | C3+E4+G4:4",
    }
    (verdict,) = verdicts(written(music))
    assert ("G", ("dissonance",), (True,)) == (verdict.root, verdict.members, verdict.leans)


@pytest.mark.parametrize(
    ("small", "after"), [("A5>G5", "F3+A4+C5"), ("D5>C5", "G3+B3+D4+F4"), ("F5>E5", "A3+E4+G4+C#5")]
)
def test_the_harmony_changes_just_after_the_beat(written, small, after) -> None:
    """On the beat C E G still sounds; that the small note belongs to the chord half a beat later does not count."""
    music = {"Oboe": f"C5:2 {small}:2 | G5:4", "Piano": f"C3+E4+G4:2 C3+E4+G4:1/2 {after}:3/2 | C3+E4+G4:4"}
    (verdict,) = verdicts(written(music))
    assert ("C", ("dissonance",), (True,)) == (verdict.root, verdict.members, verdict.leans)


def test_an_anticipation_in_another_part(written) -> None:
    """The flute has the C of the next bar already while G7 sounds: C before B leans all the same."""
    music = {
        "Oboe": "E5:2 G5:1 F5:1/2 C5>B4:1/2 | C5:4",
        "Flute": "G5:2 D5:3/2 C5:1/2 | C5:4",
        "Piano": "C3+E4+G4:2 G3+B3+D4+F4:2 | C3+E4+G4:4",
    }
    (verdict,) = verdicts(written(music))
    assert ("G", ("dissonance",), (True,)) == (verdict.root, verdict.members, verdict.leans)


@pytest.mark.parametrize(
    ("before", "root", "wanted"), [("A5:1 C6:1 E5", "A", "chord member"), ("F5:1 C6:1 F5", "F", "dissonance")]
)
def test_the_solos_own_notes_tell_where_little_else_does(written, before, root, wanted) -> None:
    """Over a bare A in the bass the solo's notes earlier in the bar say whether E belongs."""
    music = {"Oboe": f"{before}:1 E5>C5:1 | C5:4", "Cello": "A2:4 | A2:4"}
    (verdict,) = verdicts(written(music))
    assert (root, (wanted,)) == (verdict.root, verdict.members)


def test_the_solos_own_notes_are_weak_evidence(written) -> None:
    """F A F in the solo do not outweigh C E G in the piano."""
    music = {"Oboe": "F5:1 A5:1 F5:1 F5>E5:1 | C5:4", "Piano": "C3+E4+G4:4 | C3+E4+G4:4"}
    (verdict,) = verdicts(written(music))
    assert ("C", ("dissonance",)) == (verdict.root, verdict.members)


def test_a_six_four_over_a_dominant_pedal(written) -> None:
    """Over a held G, C E G between two dominants: D before C is no member there, though it is before and after."""
    music = {
        "Oboe": "B4:2 D5>C5:2 | D5:2 B4:2 | C5:4",
        "Violin": "D4+G4:2 E4+G4:2 | F4+G4:2 F4+G4:2 | E4+G4:4",
        "Cello": "G2~:4 | ^G2:4 | C3:4",
    }
    (verdict,) = verdicts(written(music))
    assert (("dissonance",), (True,)) == (verdict.members, verdict.leans)


def test_the_chord_named_agrees_with_what_is_said_of_the_small_note(written) -> None:
    """Whatever the chances, a small note is never called foreign to a chord that holds it, nor the reverse."""
    for bass in ("E3", "G3", "C3", "Db3"):
        for small in ("C5", "Db5", "B4", "G5"):
            music = {
                "Oboe": f"C5:2 {small}>Bb4:2 | Ab4:4",
                "Viola": "Ab3:2 E4:2 | F4:4",
                "Cello": f"F2:2 {bass}:2 | F2:4",
            }
            (verdict,) = verdicts(written(music))
            assert (verdict.members == ("chord member",)) == (small[:-1] in verdict.pitches)
