"""The chords of a place ranked anew, and what that says of its small notes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appui.harmony.analyse import analyse
from appui.harmony.ranking import decided_by, place_of, ranked, table_of
from appui.harmony.ranking_weights import RANKING
from appui.harmony.segment import members_table
from appui.harmony.small import asked, judge_small, mixed
from appui.score.signs import find_signs
from tests.there import there

THIN = {"Oboe": "B4:2 D5>C5:1 B4:1 | C5:4", "Cello": "G3:4 | C3:4"}
CHANCE = st.floats(0.01, 0.99)


def first_asked(score):
    """The first sign with small notes as it is asked, with its harmony and moment."""
    harmony = analyse(score)
    sign = next(sign for sign in find_signs(score) if sign.small)
    moment_q = harmony.moment_q(sign)
    heard = there(harmony.heard(sign, moment_q))
    known = harmony.membership_at(sign, heard, harmony.chances(moment_q))
    bass = harmony.fits.bass(moment_q, (sign.part, sign.voice))
    return harmony, sign, known, bass, moment_q


def test_every_fact_has_a_weight_and_every_weight_a_fact(written) -> None:
    """A fact without a weight would be lost, a weight without a fact was fitted on something else."""
    harmony, sign, known, bass, moment_q = first_asked(written(THIN))
    (struck,) = asked(harmony, sign, known, bass, moment_q)
    assert set(RANKING) == {name for table in struck[0].tables for name in table}


def test_ranked_chances_add_up_with_small_notes_and_without(written) -> None:
    """They are chances: none below 0, together 1."""
    harmony, sign, known, bass, moment_q = first_asked(written(THIN))
    place = place_of(harmony, sign, known, bass, moment_q)
    for chance in (
        ranked(table_of(harmony, sign, place)),
        ranked(*asked(harmony, sign, known, bass, moment_q)[0][0][4]),
    ):
        assert 1 == pytest.approx(float(chance.sum()))
        assert (chance >= 0).all()


def test_a_bass_speaks_for_the_chord_it_is_the_root_of(written) -> None:
    """Over a held G the chords on G have the fact `bass root`, and no others."""
    harmony, sign, known, bass, moment_q = first_asked(written(THIN))
    table = table_of(harmony, sign, place_of(harmony, sign, known, bass, moment_q))
    assert {7} == {int(index) % 12 for index in np.flatnonzero(table["bass root"])}


@pytest.mark.parametrize("first", ["bass root", "sounding now", "main leaps on", "small repeated", "degree tonic"])
def test_what_decided_is_the_fact_that_speaks_most(first) -> None:
    """One fact tells two chords apart: its group is named."""
    for_one, none = np.eye(96)[5] * np.sign(RANKING[first]), np.zeros(96)
    words = decided_by(5, 9, {first: for_one}, {"kind minor": none})
    assert words == decided_by(5, 9, {first: for_one * 9})
    assert words != decided_by(5, 9, {first: none}, {"kind minor": for_one})


@given(CHANCE, CHANCE, st.booleans())
def test_two_chances_mixed_lie_between_them(one, other, thin) -> None:
    """Whatever they are; the same chance twice stays what it is."""
    low, high = sorted((one, other))
    assert low - 1e-9 <= mixed(one, other, thin=thin) <= high + 1e-9


def test_where_nothing_of_the_moment_is_heard_the_chord_alone_decides(written) -> None:
    """The others rest: no chord is ranked, and no reason is given for overturning anything."""
    harmony, sign, known, bass, moment_q = first_asked(written(THIN))
    judged = judge_small(harmony, sign, known._replace(certainty=0.4), bass, moment_q, np.ones(96) / 96)
    assert (None, "") == (judged.chords, judged.why)


def test_a_small_note_is_as_likely_in_the_chord_as_the_ranked_chords_say(written) -> None:
    """The chance by the ranking is that of all chords with the note; it moves the verdict its way."""
    harmony, sign, known, bass, moment_q = first_asked(written(THIN))
    chances = harmony.chances(moment_q)
    judged = judge_small(harmony, sign, known, bass, moment_q, chances)
    by_rank = float(there(judged.chords) @ members_table()[:, round(sign.small[0].sounding[0].midi) % 12])
    by_line = asked(harmony, sign, known, bass, moment_q)[0][0].by_line
    assert pytest.approx(mixed(by_line, by_rank, thin=True)) == judged.chances[0][0]
