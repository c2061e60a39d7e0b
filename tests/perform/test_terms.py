"""Shaped levels: what is printed on the scale players use, the terms, the sigh, and what of it is heard."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from appui.demo import demo_score
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.notations.read import read_score
from appui.perform.leads import lead_of
from appui.perform.levels import ACCENTS_DB, LevelCurve, db_of, velocity_of
from appui.perform.play import play
from appui.perform.sheet import Sheet, sheet_of
from appui.perform.sigh import sigh_db
from appui.perform.terms import TERMS, columns_of, worths
from appui.perform.written import SCALE_DB, level_among, written_of
from tests.perform.playing import dynamic, played, wedge
from tests.realize.voices import note, score, small

SF = "<direction><direction-type><dynamics><sf/></dynamics></direction-type></direction>"
SLUR = "<slur type='start' number='1'/>", "<slur type='stop' number='1'/>"


def words(text: str) -> str:
    """Words over the staff."""
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def shaped(music, **wishes):
    """The notes of one part, shaped."""
    return played(music, shape="shaped", **wishes)


def term(one, name: str) -> float:
    """What a term adds to a note."""
    return float(dict(one.terms).get(name, 0.0))


@pytest.fixture(scope="module")
def demo():
    """The demo, shaped."""
    return interpret(demo_score(), Wishes(shape="shaped"))


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    """The notes of the demo, the oboe leading."""
    music = read_score(demo_score())
    return sheet_of(music, next(part.index for part in music.parts if part.name == "Oboe"))


# what is printed


def test_piano_to_forte_is_what_players_make_of_it() -> None:
    """(n)ASAP, computed: 5 dB from p to f, 0.7 from f to ff, 2.4 from pp to p."""
    bars = [dynamic(mark) + note("E5", 32) for mark in ("pp", "p", "f", "ff")]
    found = written_of(score(*bars).parts[0])
    steps = np.diff([found.at(4.0 * bar) for bar in range(4)])
    assert [2.4, 5.0, 0.7] == pytest.approx(steps.tolist())


@pytest.mark.parametrize(
    ("text", "mark"), [("p dolce", "p"), ("sempre forte", "f"), ("sotto voce", "p"), ("[ff]", "ff")]
)
def test_words_that_name_a_level_are_marks(text, mark) -> None:
    """With brackets or not, with what they mean for the tone or not."""
    assert SCALE_DB[mark] == written_of(score(words(text) + note("E5", 32)).parts[0]).at(0.0)


@pytest.mark.parametrize("text", ["dolce", "Allegro", "fine", "pizz.", "a tempo", "decidue"])
def test_other_words_are_no_marks(text) -> None:
    """A letter p or f at the head of a word is none."""
    assert 0.0 == written_of(score(words(text) + note("E5", 32)).parts[0]).at(3.0)


@pytest.mark.parametrize(("begin", "end"), [(words("cresc."), ""), (wedge("crescendo"), wedge("stop"))])
def test_crescendo_leads_to_the_next_mark(begin, end) -> None:
    """In words or as a hairpin: half way up after half of the way."""
    music = score(dynamic("p") + begin + note("E5", 32) + end, dynamic("f") + note("E5", 32))
    found = written_of(music.parts[0])
    assert [-2.6, -0.1, 2.4] == pytest.approx([found.at(at) for at in (0.0, 2.0, 4.0)])


def test_words_lead_no_further_than_sixteen_quarters() -> None:
    """And where no mark follows only a step: 2.5 dB."""
    music = score(dynamic("p") + words("cresc.") + note("E5", 32), *(note("E5", 32) for _ in range(7)))
    found = written_of(music.parts[0])
    assert [-2.6, -0.1, -0.1] == pytest.approx([found.at(at) for at in (0.0, 16.0, 28.0)])


def test_crescendos_without_marks_do_not_pile_up() -> None:
    """Three in a row rise no more than a step over the mark before them."""
    bar = wedge("crescendo") + note("E5", 32) + wedge("stop")
    found = written_of(score(dynamic("mf") + bar, bar, bar).parts[0])
    assert pytest.approx(2.5) == found.at(12.0)


def test_forte_piano_is_struck_and_soft_after() -> None:
    """fp: the stroke half as hard again as sf, the level after it p."""
    found = written_of(score(dynamic("f") + note("E5", 32), dynamic("fp") + note("E5", 32)).parts[0])
    assert (1.5, SCALE_DB["p"]) == (found.stress(4.0), found.at(4.0))


def test_a_part_without_marks_goes_with_the_others() -> None:
    """Before its first mark as loud as those that have one; mf where nobody has."""
    soft, late, bare = (
        written_of(score(*bars).parts[0])
        for bars in (
            (dynamic("pp") + note("E5", 32), note("E5", 32)),
            (note("E5", 32), dynamic("f") + note("E5", 32)),
            (note("E5", 32), note("E5", 32)),
        )
    )
    found = [[level_among((soft, late, bare), part, at) for at in (0.0, 4.0)] for part in range(3)]
    assert [[-5.0, -5.0], [-5.0, 2.4], [-5.0, pytest.approx(-1.3)]] == found
    assert 0.0 == level_among((bare,), 0, 0.0)


def test_a_part_left_behind_in_forte_goes_with_the_others() -> None:
    """Where the solo and all others are marked p since, an accompanying f is an omission; the solo's own is meant."""
    forte, later = dynamic("f") + note("E5", 32), dynamic("p") + note("E5", 32)
    marked, behind = (written_of(score(forte, bar).parts[0]) for bar in (later, note("E5", 32)))
    printed = (marked, behind, marked)
    assert [2.4, SCALE_DB["p"]] == [level_among(printed, 1, at, solo=0) for at in (0.0, 4.0)]
    assert 2.4 == level_among(printed, 1, 4.0, solo=1)
    assert 2.4 == level_among(printed, 1, 4.0)
    assert 2.4 == level_among((marked, behind, behind), 1, 4.0, solo=0)


def test_a_part_marked_a_little_after_the_others_is_not_left_behind() -> None:
    """Its p three quarters later than theirs: until then its f stands."""
    bars = dynamic("p") + note("E5", 32), note("E5", 24) + dynamic("p") + note("E5", 8)
    marked, after = (written_of(score(dynamic("f") + note("E5", 32), bar).parts[0]) for bar in bars)
    assert 2.4 == level_among((marked, after, marked), 1, 5.0, solo=0)


# terms


def test_every_term_has_its_worth_and_source() -> None:
    """The table and the code name the same terms; none is worth nothing, each says where it is from."""
    assert list(TERMS) == list(worths())
    assert all(worth.db and worth.unit and worth.words and worth.source for worth in worths().values())


def test_terms_add_up_to_nothing_over_the_piece(sheet) -> None:
    """So that a piece stands where its marks put it."""
    for name, column in columns_of(sheet).items():
        assert 0 == pytest.approx(float(column.sum()), abs=1e-6), name


def test_the_solo_leads_while_it_sounds(sheet) -> None:
    """Where it rests the highest of the others does."""
    lead = lead_of(sheet)
    solo = sheet.part == sheet.solo
    assert lead[solo].all()
    for row in np.flatnonzero(lead & ~solo):
        now = (sheet.onset_q <= sheet.onset_q[row]) & (sheet.end_q > sheet.onset_q[row] + 1e-4)
        assert not (now & solo).any()
        assert sheet.pitch[row] == sheet.pitch[now].max()


def test_without_a_solo_the_highest_leads() -> None:
    """Of a chord its top note."""
    music = score(note("C4", 32) + note("E4", 32, chord=True) + note("G4", 32, chord=True))
    assert [False, False, True] == lead_of(sheet_of(music)).tolist()


@pytest.mark.parametrize(
    ("name", "bar", "louder", "units"),
    [
        ("pitch", note("C4", 16) + note("C5", 16), 1, 1.0),
        ("height", note("C4", 16) + note("C5", 16), 1, 1.0),
        ("stress", note("C4", 16) + SF + note("C4", 16), 1, 1.0),
        ("longer", note("C4", 8) + note("C4", 24), 1, math.log2(3)),
        ("detached", note("C4", 16) + note("C4", 16, "<articulations><staccato/></articulations>"), 1, 1.0),
        ("repeated", note("C4", 8) + note("R", 8) + note("D4", 8) + note("D4", 8), 2, 1.0),
    ],
)
def test_a_term_counts_its_units(name, bar, louder, units) -> None:
    """Between two notes that differ in one thing."""
    column = columns_of(sheet_of(score(bar)))[name]
    assert units == pytest.approx(float(column[louder] - column[louder - 1])) or (
        name == "repeated" and units == pytest.approx(float(column[2] - column[1]))
    )


def test_span_density_and_octaves_are_told_by_the_bar() -> None:
    """A bar of octaves over two octaves against a bar of one note."""
    wide = note("C3", 16) + note("C4", 16, chord=True) + note("C4", 16) + note("C5", 16, chord=True)
    columns = columns_of(sheet_of(score(note("C4", 32), wide)))
    differ = {name: float(columns[name][-1] - columns[name][0]) for name in ("span", "density", "octaves")}
    assert {"span": 2.0, "density": 2.0, "octaves": 1.0} == pytest.approx(differ)


def test_a_tied_note_is_one() -> None:
    """Its row begins where it is struck, and is found from where it goes on."""
    music = score(note("E5", 32, "<tie type='start'/>"), note("E5", 8, "<tie type='stop'/>") + note("F5", 24))
    found = sheet_of(music)
    assert [(0.0, 5.0), (5.0, 3.0)] == list(zip(found.onset_q.tolist(), found.length_q.tolist(), strict=True))
    assert 0 == found.row_of(0, Fraction(4), 76.0)


def test_levels_are_the_sum_of_their_terms(demo) -> None:
    """With the rounding to a whole velocity they add up to its level, note by note; without it, to the nearest."""
    for part in play(demo, demo.order(None)).parts:
        for one in part.notes:
            assert db_of(one.velocity) == pytest.approx(_sum(one), abs=0.002)
            assert velocity_of(round(_sum(one) - term(one, "rounding"), 3)) == one.velocity


def test_excerpts_are_shaped_as_the_whole(demo) -> None:
    """Bars 9 to 12 alone have the levels they have in the piece."""
    bars: dict[str, dict[tuple[str, Fraction, int], int]] = {"whole": {}, "excerpt": {}}
    for name, order in (("whole", demo.order(None, repeats=False)), ("excerpt", demo.order("9-12"))):
        first_q = next(each.onset_q for each in order if demo.score.bars[each.bar].number == "9")
        made = play(demo, order)
        for part in made.parts:
            for one in part.notes:
                at_q = one.onset_q - first_q - made.lead_q
                if 0 <= at_q < 4 * demo.score.bars[9].length_q:
                    bars[name][part.id, at_q, one.key] = one.velocity
    assert bars["excerpt"]
    assert bars["whole"] == bars["excerpt"]


def test_plain_is_what_is_printed_and_no_more(demo) -> None:
    """`shape` plain: the printed level, accents, what the role weighs, the approach; no terms, the old velocities."""
    plain = replace(demo, wishes=replace(demo.wishes, shape="plain"))
    made = play(plain, plain.order(None))
    for part, printed in zip(made.parts, plain.score.parts, strict=True):
        curve = LevelCurve.of(printed)
        levels = set(_possible(curve, printed))
        assert not any(one.terms for one in part.notes)
        assert {one.velocity for one in part.notes if one.role == "plain"} <= levels


def _possible(curve: LevelCurve, part) -> Iterator[int]:
    for voice in part.voices:
        for event in voice.events:
            at = float(event.onset_q)
            accent = max((ACCENTS_DB.get(name, 0.0) for name in event.articulations), default=0.0)
            yield from (velocity_of(curve.at(at) + curve.stress(at) + accent + rise) for rise in (0.0, 0.5, 1.0))


# the sigh


@pytest.mark.parametrize(
    ("length", "ends", "db"), [(0.2, True, 0.15), (0.5, True, 1.5), (0.9, True, 3.1), (0.9, False, 1.0)]
)
def test_the_sigh_grows_with_its_length(length, ends, db) -> None:
    """(n)ASAP, computed: 0.2 dB under a quarter of a second, 1.7 around a half, 3.1 beyond 700 ms at a slur's end."""
    assert db == pytest.approx(sigh_db(length, ends=ends))


def test_a_leaning_note_weighs_by_its_length() -> None:
    """Leaning for two seconds: 3.1 dB, whatever the style teaches; asked for, 4 or any other."""
    music = score(small("F5") + note("E5", 32))
    for asked, expected in ((None, 3.1), (Fraction(4), 4.0), (Fraction(8), 8.0)):
        lean, release = shaped(music, takes=("oboe.1.1=leaning 1/2",), weight_db=asked)
        named = [sum(db for name, db in one.terms if name != "rounding") for one in (lean, release)]
        assert expected == pytest.approx(named[0] - named[1], abs=0.01)


def _sum(one) -> float:
    return float(sum(db for _, db in one.terms))


def test_the_release_is_short() -> None:
    """(n)ASAP, computed: held 52 % of its length where it ends the slur, the leaning note whole."""
    music = score(small("F5") + note("E5", 16) + note("R", 16))
    lean, release = shaped(music, takes=("oboe.1.1=leaning 1/2",))
    assert [1.0, pytest.approx(0.52)] == [lean.duration_s, release.duration_s]


# in the audio


def test_what_the_terms_say_is_heard(demo) -> None:
    """Notes of the oboe, each alone: their levels in the audio stand as far from velocity 100 as their terms say."""
    from appui.sound.synth import render_blocks

    made = play(demo, demo.order("1-4"))
    part = next(part for part in made.parts if part.solo)
    heard: dict[tuple[int, int], float] = {}

    def level(key: int, velocity: int) -> float:
        if (key, velocity) not in heard:
            one = part.notes[0]._replace(onset_s=0.0, duration_s=0.6, key=key, velocity=velocity)
            alone = replace(made, parts=(replace(part, notes=(one,), controls=()),), length_s=0.7)
            sound = np.concatenate(list(render_blocks(alone, reverb=False)))
            heard[key, velocity] = 10 * math.log10(float(np.mean(np.square(sound[:22_000], dtype=np.float64))))
        return heard[key, velocity]

    assert len({one.velocity for one in part.notes}) > 5
    for one in part.notes:
        assert _sum(one) - db_of(100) == pytest.approx(level(one.key, one.velocity) - level(one.key, 100), abs=0.2)
