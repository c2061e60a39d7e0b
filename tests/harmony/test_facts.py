"""Small notes over a thin chord: the line is weighed with it."""

from dataclasses import replace

import pytest

from appui.harmony.analyse import analyse
from appui.harmony.facts import CONSTANT, WEIGHTS, Facts, reason_of, weighed
from appui.harmony.verdicts import verdict_of
from appui.score.signs import find_signs

NOTHING = Facts(0, 0, 0, 0, 0, 0, 0)


def last_verdict(score):
    """The verdict on the last sign with small notes."""
    return verdict_of(analyse(score), [sign for sign in find_signs(score) if sign.small][-1])


def test_a_main_note_that_leans_itself_leaves_the_small_note_in_the_chord(written) -> None:
    """D C over a held G, the large C stepping down to B: C leans, D is of the chord (common practice, no source)."""
    music = {"Oboe": "B4:2 D5:2 | C5:1/2 C5>D5>C5:1/2 B4:1 G4:2", "Cello": "G3:4 | G3:4"}
    score = written(music)
    (sign,) = [sign for sign in find_signs(score) if sign.small]
    verdict = verdict_of(analyse(score), sign)
    assert ("dissonance", "chord member") == verdict.members


def test_two_notes_under_a_small_note_leave_it_to_the_chord(written) -> None:
    """C E G stand under F before E: nothing but the chord is asked, and the words name no other reason."""
    verdict = last_verdict(written({"Oboe": "C5:2 F5>E5:2 | C5:4", "Piano": "C3+E4+G4:4 | C3+E4+G4:4"}))
    assert (("dissonance",), ()) == (verdict.members, tuple(verdict.words.split("; ")[1:]))


def test_the_words_say_what_overturned_the_chord() -> None:
    """The fact that spoke loudest is named; where the chord says the same, none is."""
    facts = NOTHING._replace(chord=-1.0, main_leans=1.0, main_beats=1.0)
    assert "steps down, as a leaning note does" in reason_of(facts, 0.3)
    assert "" == reason_of(facts, 0.7)


def test_without_any_fact_the_chance_is_that_of_the_constant() -> None:
    """Nothing is added where no fact holds."""
    assert pytest.approx(weighed(NOTHING)) == weighed(NOTHING._replace(chord=CONSTANT / WEIGHTS.chord), 0.0)


@pytest.mark.parametrize("fact", ["chord", "main_leans", "plays_round", "leaps_on", "main_beats", "alone"])
def test_each_fact_speaks_for_the_chord(fact) -> None:
    """What the docstring says of each: a small note more likely belongs where it holds."""
    assert weighed(NOTHING._replace(**{fact: 1.0})) > weighed(NOTHING)


def test_small_notes_struck_together_have_a_verdict_each(written) -> None:
    """E and F together before E, over C: E belongs, F does not, and the words say so."""
    score = written({"Oboe": "C5:2 E5:2 | C5:4", "Piano": "C3+E4+G4:4 | C3+E4+G4:4"})
    first, second, *others = score.parts[0].voices[0].events
    events = (first, second._replace(small_before=(_chord(written),)), *others)
    verdict = last_verdict(_with_events(score, events))
    assert (("dissonance",), (("chord member", "dissonance"),)) == (verdict.members, verdict.struck)
    assert "of them E5 belongs to the chord" in verdict.words


def _chord(written):
    """A small note of two, E5 and F5."""
    first = written({"Oboe": "E5>C5:4"}).parts[0].voices[0].events[0].small_before[0]
    second = written({"Oboe": "F5>C5:4"}).parts[0].voices[0].events[0].small_before[0]
    return first._replace(written=first.written + second.written, sounding=first.sounding + second.sounding)


def _with_events(score, events):
    """The score with other events in its first voice."""
    part = score.parts[0]
    voice = part.voices[0]._replace(events=events)
    return replace(score, parts=(replace(part, voices=(voice,)), *score.parts[1:]))
