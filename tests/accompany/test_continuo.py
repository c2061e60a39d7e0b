"""Figured bass: each figure, each rule. Shorthand and rules: common practice, no source, unless said otherwise."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from appui.accompany.chord import Chord, pitch_in
from appui.accompany.continuo import continuo_chords
from appui.accompany.figured_bass import tones_of
from appui.accompany.octave import octave_steps, scale_alter
from appui.accompany.voicing import HAND, faults, voice_chords
from appui.exact import Fraction
from appui.harmony.figured_bass import steps_of
from appui.harmony.places import place_of
from appui.harmony.printed import printed_at
from appui.harmony.spelling import letter_of
from appui.score.figured_bass import parse_figures
from appui.score.model import Figure, FiguredBass
from appui.score.pitch import parse_pitch

C_MAJOR, C_MINOR = (0, False), (0, True)


def chords_of(score, key=C_MAJOR):
    """The chords of a figured score, one key throughout."""
    return continuo_chords(score, score.parts[1], [key] * len(score.bars))[0]


def played(score, key=C_MAJOR):
    """Chords and voicings as names, bass first."""
    chords = chords_of(score, key)
    return [
        [chord.bass.name, *(p.name for p in voicing)]
        for chord, voicing in zip(chords, voice_chords(chords), strict=True)
    ]


def letters(names) -> set[str]:
    """Letters without octaves."""
    return {name.rstrip("0123456789") for name in names}


@pytest.mark.parametrize(
    ("bass", "row", "wanted"),
    [
        ("G3", ".", "G B D"),
        ("G3", "5", "G B D"),
        ("G3", "8/5/3", "G B D"),
        ("B2", "6", "B D G"),
        ("G3", "6/4", "G C E"),
        ("G3", "7", "G B D F"),
        ("G3", "7/5/3", "G B D F"),
        ("B2", "6/5", "B D F G"),
        ("D3", "4/3", "D F G B"),
        ("D3", "6/4/3", "D F G B"),
        ("F3", "4/2", "F G B D"),
        ("F3", "2", "F G B D"),
        ("G3", "4", "G C D"),
        ("G3", "5/4", "G C D"),
        ("C3", "9", "C E G D"),
        ("C3", "9/7", "C E B D"),
        ("C3", "9/4", "C F G D"),
        ("G3", "7/4", "G C D F"),
        ("C3", "7/4/2", "C D F B"),
        ("D3", "#", "D F# A"),
        ("D3", "7/#", "D F# A C"),
        ("F3", "b6", "F A Db"),
        ("F3", "6+", "F A D#"),
        ("F3", "6+/4/3", "F A B D#"),
        ("A2", "6/#4/2", "A B D# F"),
    ],
)
def test_figures_give_their_chord(figured, bass, row, wanted) -> None:
    """Each shorthand spelled out over one note; a fifth may be missing from a seventh or ninth."""
    found = letters(played(figured(f"{bass}:4", row, solo="G5:4"))[0])
    assert set(wanted.split()) >= found
    assert len(found) >= min(4, len(wanted.split())) - (len(wanted.split()) > 3)


@pytest.mark.parametrize(("fifths", "row", "third"), [(-3, "#", "E"), (-3, "n", "E"), (3, "b", "C"), (0, "b", "Eb")])
def test_a_sign_against_the_signature_takes_it_away(figured, fifths, row, third) -> None:
    """A sharp under three flats raises E flat to E, not to E sharp (usage before about 1800, memory)."""
    bass = "C3" if fifths <= 0 else "A2"
    assert third in letters(played(figured(f"{bass}:4", row, solo="G5:4", fifths=fifths))[0])


def test_a_slash_raises_by_a_semitone() -> None:
    """A stroke through the six over C in three flats asks for A natural."""
    steps = steps_of((Figure("6", "", "slash"),), parse_pitch("C3"), lambda letter: -1 if letter in "BEA" else 0)
    assert 0 == next(step.alter for step in steps if step.number == 6)


def test_dashes_hold_the_chord(figured) -> None:
    """Under dashes nothing new is struck."""
    score = figured("C3:2 D3:2", "6 5")
    dashed = FiguredBass(Fraction(2), Fraction(2), (Figure("", "", "", "continue"),))
    part = replace(score.parts[1], figures=(score.parts[1].figures[0], dashed))
    assert [(0, 4)] == [(c.onset_q, c.end_q) for c in chords_of(replace(score, parts=(score.parts[0], part)))]


def test_figures_under_one_note_follow_each_other(figured) -> None:
    """4 3 over a half note: a quarter each."""
    assert [(0, 1), (1, 2), (2, 4)] == [(c.onset_q, c.end_q) for c in chords_of(figured("G2:2 C3:2", "4>3 ."))]


@pytest.mark.parametrize(
    ("bass", "rows", "moves"),
    [
        ("G2:2 C3:2", "7 .", [("F", "E")]),
        ("B2:2 C3:2", "6/5 .", [("F", "E")]),
        ("D3:2 C3:2", "4/3 .", [("F", "E")]),
        ("C3:2 G2:2", ". 4>3", [("C", "B")]),
        ("G2:2 C3:2", ". 9>8", [("D", "C")]),
        ("F3:2 E3:2", "7>6 6", [("E", "D")]),
        ("G2:2 C3:2", "6/4>5/3 .", [("E", "D"), ("C", "B")]),
        ("G2:2 C3:2", "7/4>7/3 .", [("C", "B"), ("F", "E")]),
    ],
)
def test_dissonances_fall_by_step(figured, bass, rows, moves) -> None:
    """Sevenths, suspensions and a six-four over its dominant resolve downwards, each in its own voice."""
    found = played(figured(bass, rows))
    for high, low in moves:
        assert any(
            (a[0], b[0]) == (high, low) and 0 < parse_pitch(a).midi - parse_pitch(b).midi < 3
            for before, after in pairwise(found)
            for a, b in zip(before[1:], after[1:], strict=True)
        ), found


def test_suspensions_are_prepared(figured) -> None:
    """The C that a 4 over G holds was there before, in the same voice."""
    before, after = played(figured("C3:2 G2:2", ". 4>3"))[:2]
    assert any(a == b and a[0] == "C" for a, b in zip(before[1:], after[1:], strict=True))


def test_the_leading_note_is_not_doubled_and_rises_on_top(figured) -> None:
    """In V-I the B sounds once; in the highest voice it goes to C."""
    five, one = played(figured("G2:2 C3:2", ". ."))
    assert 1 == sum(name[0] == "B" for name in five)
    assert five[3][0] != "B" or one[3][0] == "C"


@pytest.mark.parametrize(
    ("key", "bass", "figures"),
    [
        (C_MAJOR, "C3 D3 E3 F3 G3 A3 B3 C4", "CEG DFGB EGC FACD GBD ACF BDFG CEG"),
        (C_MAJOR, "C4 B3 A3 G3 F3 E3 D3 C3", "CEG BDG ACDF# GBD FGBD EGC DFGB CEG"),
        (C_MINOR, "C3 D3 Eb3 F3 G3 A3 B3 C4", "CEbG DFGB EbGC FAbCD GBD ACF BDFG CEbG"),
        (C_MINOR, "C4 Bb3 Ab3 G3 F3 Eb3 D3 C3", "CEbG BbDG AbCF GBD FGBD EbGC DFGB CEbG"),
    ],
)
def test_the_rule_of_the_octave(key, bass, figures) -> None:
    """The scale in the bass, up and down, in major and minor (memory)."""
    notes = [parse_pitch(name) for name in bass.split()]
    for note, after, wanted in zip(notes, [*notes[1:], None], figures.split(), strict=True):
        steps = octave_steps(note, after, key[0], minor=key[1])
        found = {pitch_in(tone.place, 4).letter for tone in tones_of(steps, note, 5)} | {note.letter}
        assert "".join(sorted(wanted)) == "".join(sorted("".join(found))), (note.name, found)


def test_passing_notes_bear_no_chord(figured) -> None:
    """D between C and E, off the beat and without figures, passes under the chord of C."""
    found = chords_of(figured("C3:1/2 D3:1/2 E3:1 F3:2", ". . 6 ."))
    assert [0, 1, 2] == [chord.onset_q for chord in found]
    assert ("C3", "D3") == (found[0].bass.name, found[0].leaving.name)


@pytest.mark.parametrize(
    ("bass", "rows"), [("C3:1 D3:1 E3:1 F3:1 | G3:2 C3:2", ". " * 6), ("C3:2 B2:2 | A2:4", "7 . .")]
)
def test_what_is_judged_is_what_is_played(figured, bass, rows) -> None:
    """Figures that were supplied say to the harmony room what sounds."""
    score = figured(bass, rows)
    chords, figures = continuo_chords(score, score.parts[1], [C_MAJOR] * len(score.bars))
    supplied = replace(score, parts=(score.parts[0], replace(score.parts[1], figures=figures)))
    for chord in chords:
        printed = printed_at(supplied, chord.onset_q)
        assert printed is not None
        assert set(printed.fifths) == {*chord.places, place_of(chord.bass)}


# laws

#  figures: how the bass may go on, in letter steps, and with which figures; the free ones may do anything
FREE = ("", "6")
ROWS = {
    "": (None, (*FREE, "7", "6/5", "4/3", "4/2", "4")),
    "6": (None, (*FREE, "7", "6/5", "6/4")),
    "7": ((-4, 3, 1), FREE),
    "6/5": ((1,), FREE),
    "6/4": ((0,), ("", "7")),
    "4/3": ((-1, 1), FREE),
    "4/2": ((-1,), ("6", "6/5")),
    "4": ((0,), ("",)),
    "9": ((0,), ("",)),
}


def chord_over(at: int, row: str, index: int, tonic: int, *, minor: bool) -> Chord:
    """A chord over a letter step of a scale."""
    letter = "CDEFGAB"[at % 7]
    alter = scale_alter(letter, tonic, minor=minor)
    bass = parse_pitch(f"{letter}{'#' * alter if alter > 0 else 'b' * -alter}{at // 7}")
    steps = steps_of(parse_figures(row), bass, lambda name: scale_alter(name, tonic, minor=minor))
    return Chord(Fraction(index), Fraction(index + 1), bass, tones_of(steps, bass, tonic + 5), bass)


@st.composite
def basses(draw: st.DrawFn, *, wild: bool = False) -> list[Chord]:
    """A figured bass of up to twelve notes whose dissonances can resolve; a wild one does what it likes."""
    minor = draw(st.booleans())
    tonic = draw(st.integers(-4, 4)) + (3 if minor else 0)
    at, row = draw(st.integers(17, 24)), ""
    chords = []
    for index in range(draw(st.integers(2, 12))):
        chords.append(chord_over(at, row, index, tonic, minor=minor))
        moves, rows = (None, tuple(ROWS)) if wild else ROWS[row]
        step = draw(st.integers(-4, 4) if moves is None else st.sampled_from(moves))
        at, row = at + step, draw(st.sampled_from(rows))
        if not 14 <= at <= 28:
            break
        if row in ("6/4", "4") and not wild and (at - "CDEFGAB".index(letter_of(tonic)[0])) % 7 != 4:
            row = ""
    return chords


@settings(max_examples=60, deadline=None)
@given(basses())
def test_no_rule_is_broken_where_the_bass_allows_it(chords) -> None:
    """No parallels, nothing unresolved, doubled, missing, too wide or under the bass."""
    assert [] == list(faults(chords, voice_chords(chords)))


@settings(max_examples=60, deadline=None)
@given(basses(wild=True))
def test_no_parallels_over_any_bass(chords) -> None:
    """A bass that leaves no clean way costs a tone, a doubling or a resolution: never parallels or the hand's span."""
    assert {"missing", "doubled", "unresolved"} >= {name for _, name in faults(chords, voice_chords(chords))}


@settings(max_examples=25, deadline=None)
@given(basses())
def test_another_library_finds_no_parallels(chords) -> None:
    """music21's voice-leading quartets agree."""
    from music21.note import Note
    from music21.voiceLeading import VoiceLeadingQuartet

    rows = [(chord.bass, *voicing) for chord, voicing in zip(chords, voice_chords(chords), strict=True)]
    for before, after in pairwise(rows):
        for low in range(4):
            for high in range(low + 1, 4):
                pitches = (before[high], after[high], before[low], after[low])
                one, two, three, four = (Note(pitch.name.replace("b", "-")) for pitch in pitches)
                quartet = VoiceLeadingQuartet(one, two, three, four)
                assert not quartet.parallelFifth()
                assert not quartet.parallelOctave()
                assert not quartet.parallelUnison()


@settings(max_examples=40, deadline=None)
@given(basses())
def test_the_hand_stays_in_its_range(chords) -> None:
    """Three notes within an octave, from E below middle C to F above it, higher only over a high bass."""
    for chord, voicing in zip(chords, voice_chords(chords), strict=True):
        assert HAND[0] <= voicing[0].midi
        assert voicing[2].midi <= max(HAND[1], chord.bass.midi + 16)
        assert voicing[2].midi - voicing[0].midi <= 12


@pytest.mark.parametrize(
    ("bass", "rows", "fault"),
    [
        ("C3 D3", "C4E4G4 D4F4A4", "parallel"),
        ("G2 C3", "B3D4G4 G3C4E4", ""),
        ("C3", "E4G4C6", "wide"),
        ("G2", "B3D4B4", "doubled"),
        ("C3", "C4G4C5", "missing"),
    ],
)
def test_a_planted_fault_is_found(bass, rows, fault) -> None:
    """The check on the writing can fail."""
    import re

    chords = []
    for name in bass.split():
        pitch = parse_pitch(name)
        steps = steps_of((), pitch, lambda _: 0)
        chords.append(Chord(Fraction(0), Fraction(1), pitch, tones_of(steps, pitch, 5), pitch))
    voicings = []
    for row in rows.split():
        low, middle, high = map(parse_pitch, re.findall(r"[A-G]\d", row))
        voicings.append((low, middle, high))
    assert ([fault] if fault else []) == sorted({name for _, name in faults(chords, voicings)})
