"""Laws of the harmony room, on generated music."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from appui.exact import Fraction
from appui.harmony.analyse import analyse
from appui.harmony.model import DISSONANCE, MEMBER, UNKNOWN
from appui.harmony.verdicts import verdict_of
from appui.score.signs import find_signs

QUICK = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
NAMES = "C D E F G A B".split()

solo_notes = st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)), min_size=2, max_size=6)
chords = st.lists(
    st.sampled_from(["C3+E4+G4", "F3+A4+C5", "G3+B4+D5", "G3+F4+B4", "A3+E4+C5", "D3+F4+A4", "E3+G4+B4"]),
    min_size=2,
    max_size=6,
)


def music(solo, below) -> dict[str, str]:
    """Bars of one main note with a small note before it over one chord."""
    count = min(len(solo), len(below))
    oboe = " | ".join(f"{small}5>{main}5:4" for small, main in solo[:count])
    return {"Oboe": oboe, "Piano": " | ".join(f"{chord}:4" for chord in below[:count])}


def judged(score):
    """The verdicts on all small notes."""
    harmony = analyse(score)
    return [verdict_of(harmony, sign) for sign in find_signs(score) if sign.small]


@QUICK
@given(solo=solo_notes, below=chords)
def test_chances_are_chances(written, solo, below) -> None:
    """The chances of all chords add up to one at every moment, membership lies between nought and one."""
    score = written(music(solo, below))
    harmony = analyse(score)
    for quarter in range(int(score.length_q)):
        assert pytest.approx(1) == float(harmony.chances(Fraction(quarter)).sum())
    assert all(0 <= chance <= 1 for verdict in judged(score) for chance in verdict.member_chances)


@QUICK
@given(solo=solo_notes, below=chords)
def test_a_verdict_says_one_thing_a_small_note(written, solo, below) -> None:
    """Members, chances and leanings are as many as small notes; the words, the member and the chance agree."""
    score = written(music(solo, below))
    for sign, verdict in zip((s for s in find_signs(score) if s.small), judged(score), strict=True):
        assert len(sign.small) == len(verdict.members) == len(verdict.member_chances) == len(verdict.leans)
        assert verdict.members[0] == (MEMBER if verdict.member_chances[0] >= 0.5 else DISSONANCE)
        assert (" belongs to " in verdict.words) == (verdict.members[0] == MEMBER)


@QUICK
@given(solo=solo_notes, below=chords, shift=st.integers(1, 11))
def test_what_is_said_moves_with_the_key(written, major_up, solo, below, shift) -> None:
    """The same music in another key has the same members, leanings and chances."""
    plain, moved = judged(written(music(solo, below))), judged(written(music(solo, below), major_up[shift]))
    for here, there in zip(plain, moved, strict=True):
        assert (here.members, here.leans) == (there.members, there.leans)
        assert pytest.approx(here.member_chances, abs=0.002) == there.member_chances


@QUICK
@given(solo=solo_notes, below=chords)
def test_small_notes_are_no_evidence(written, solo, below) -> None:
    """Taking the small notes away changes no chord."""
    words = music(solo, below)
    bare = {**words, "Oboe": " | ".join(bar.split(">")[1] for bar in words["Oboe"].split(" | "))}
    first, second = analyse(written(words)), analyse(written(bare))
    for bar in first.score.bars:
        assert first.chances(bar.onset_q).tolist() == second.chances(bar.onset_q).tolist()


@pytest.mark.parametrize("what", ["hidden", "cue"])
def test_hidden_and_cue_notes_are_no_evidence(written, what) -> None:
    """A hidden or silent E flat minor chord under C E G changes nothing."""
    music_words = {"Oboe": "E5:4 | F5>E5:4", "Piano": "C3+E4+G4:4 | C3+E4+G4:4"}
    loud = written({**music_words, "Ghost": "Eb3+Gb4+Bb4:4 | Eb3+Gb4+Bb4:4"})
    ghost = loud.parts[2]
    events = tuple(
        event._replace(notes=tuple(note._replace(**{what: True}) for note in event.notes))
        for event in ghost.voices[0].events
    )
    silent = replace(loud, parts=(*loud.parts[:2], replace(ghost, voices=(ghost.voices[0]._replace(events=events),))))
    plain = written(music_words)
    assert analyse(plain).chances(Fraction(4)).tolist() == analyse(silent).chances(Fraction(4)).tolist()
    assert analyse(plain).chances(Fraction(4)).tolist() != analyse(loud).chances(Fraction(4)).tolist()


@QUICK
@given(solo=solo_notes, below=chords)
def test_the_order_of_parts_does_not_matter(written, solo, below) -> None:
    """The accompaniment printed above the solo gives the same verdicts."""
    words = music(solo, below)
    turned = judged(written(dict(reversed(words.items()))))
    for here, there in zip(judged(written(words)), turned, strict=True):
        assert here.members == there.members
        assert pytest.approx(here.member_chances, abs=0.002) == there.member_chances


@QUICK
@given(solo=solo_notes)
def test_alone_there_is_nothing_to_say(written, solo) -> None:
    """A solo alone is unknown at every small note, whatever it plays."""
    words = {"Oboe": " | ".join(f"{small}5>{main}5:4" for small, main in solo)}
    assert all((UNKNOWN,) == verdict.members and not verdict.known for verdict in judged(written(words)))


@QUICK
@given(solo=solo_notes, below=chords)
def test_asking_twice_gives_the_same(written, solo, below) -> None:
    """Verdicts do not depend on what was asked before."""
    score = written(music(solo, below))
    harmony = analyse(score)
    signs = [sign for sign in find_signs(score) if sign.small]
    backwards = [verdict_of(harmony, sign) for sign in reversed(signs)]
    assert [verdict_of(harmony, sign) for sign in signs] == backwards[::-1]
