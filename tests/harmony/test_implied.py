"""The chords a single line implies."""

from dataclasses import replace

import numpy as np
import pytest

from appui.harmony.implied import beats_of, implied, implied_chances, shipped_tables
from appui.score.model import Key
from appui.score.pitch import Transposition

CADENCE = "C5:1 E5:1 G5:1 E5:1 | F5:1 D5:1 B4:1 G4:1 | C5:4"


def roots_of(score) -> list[int]:
    """The root of the chord of every beat."""
    return [each.chord.root for each in implied(score)]


def test_a_cadence_in_broken_chords_is_tonic_dominant_tonic(written) -> None:
    """C E G E, F D B G, C: the line spells C, G7 and C."""
    roots = roots_of(written({"Flute": CADENCE}))
    assert ([0] * 4, 7, 7, 0) == (roots[:4], roots[6], roots[7], roots[8])


def test_chances_of_every_beat_add_up(written) -> None:
    """All keys and chords of a beat together are 1."""
    chances = implied_chances(beats_of(written({"Flute": CADENCE})), shipped_tables())
    assert pytest.approx(1) == chances.sum((1, 2, 3))


def test_a_line_a_fifth_higher_has_its_chords_a_fifth_higher(written) -> None:
    """The same music under another signature: nothing in the chain knows a pitch by its name."""
    low = written({"Flute": CADENCE})
    high = written({"Flute": "G5:1 B5:1 D6:1 B5:1 | C6:1 A5:1 F#5:1 D5:1 | G5:4"})
    part = replace(high.parts[0], keys=(Key(high.bars[0].onset_q, 1),))
    assert [(root + 7) % 12 for root in roots_of(low)] == roots_of(replace(high, parts=(part,)))


def test_the_signature_of_a_transposing_line_is_that_which_sounds(written) -> None:
    """A clarinet in B flat that reads C major sounds in B flat major."""
    score = written({"Clarinet": "C5:1 E5:1 G5:1 E5:1 | G5:1 F5:1 D5:1 B4:1 | C5:4"})
    part = replace(score.parts[0], transpositions=((score.bars[0].onset_q, Transposition(-1, -2)),))
    assert {-2} == set(beats_of(replace(score, parts=(part,))).signature.tolist())


def test_a_silent_line_implies_what_is_usual_in_its_key(written) -> None:
    """Nothing sounds: the chances are still chances, and the likeliest chord is the tonic's."""
    first = next(implied(written({"Flute": "r:4 | r:4"})))
    assert (0, (0, False)) == (first.chord.root, first.key)


def test_many_notes_at_once_leave_chances(written) -> None:
    """A cluster of twelve notes a beat makes no chord impossible."""
    score = written({"Flute": "+".join(f"{letter}{octave}" for octave in (4, 5, 6) for letter in "CDEFGAB") + ":4"})
    assert bool(np.isfinite(implied_chances(beats_of(score), shipped_tables())).all())


def test_every_chord_of_the_tables_has_a_row_in_each() -> None:
    """Roots lie in the octave, rows add up to 1, and the tonic is the commonest chord of both modes."""
    tables = shipped_tables()
    for rows in (tables.sounding, tables.on_beat, tables.follows):
        assert pytest.approx(1) == rows.sum(2)
    assert [0, 0] == [int(tables.roots[mode, tables.usual[mode].argmax()]) for mode in (0, 1)]
