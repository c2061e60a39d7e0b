"""Verdicts in the textures of the repertory. Expected values: common practice, no source, unless said."""

from dataclasses import replace

import pytest

from appui.harmony.analyse import analyse
from appui.score.model import SmallNote
from appui.score.pitch import Pitch
from appui.score.signs import find_signs


def verdicts(score):
    """The verdicts on all small notes, in order of part and time."""
    harmony = analyse(score)
    return [harmony.verdict(sign) for sign in find_signs(score) if sign.small]


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
    verdict = analyse(_with_after_note(score)).verdict(sign)
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
    assert "carried on from around" in verdict.words


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
