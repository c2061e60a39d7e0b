"""Proposals in 312 made-up situations: every key, several meters, instruments, tempos and amounts, twelve progressions.

The harmony is known by construction, so chords, keys and places are checked against that, not against what was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import cycle, pairwise
from typing import NamedTuple

import pytest
from lxml import etree
from music21 import key as m21_key

from appui.embellish.choose import DIFFERENT, Found, propose
from appui.embellish.model import AMOUNTS, Proposal, Wish
from appui.embellish.places import find_places
from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import Interpretation, interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.plan.compass import compass_of
from appui.plan.free_notes import notes_text, parse_notes
from appui.score.model import Note
from appui.score.pitch import Pitch
from appui.style.free import FreeNote
from tests.embellish.proposal_laws import as_music21, events, faults, following, sounding
from tests.embellish.situations import (
    INSTRUMENTS,
    METERS,
    TEMPOS,
    TONICS,
    Bar,
    Key,
    bare,
    cadenza,
    flourish,
    lead_in,
    parse,
    score,
)
from tests.there import there

Q = Fraction
#  progression, the kind of place that is to be found there
PROGRESSIONS: tuple[tuple[list[Bar], str], ...] = (
    (cadenza(figure=True), "cadenza"),
    (cadenza(own=False, figure=True), "cadenza"),
    (cadenza(trill=True), "cadenza"),
    (cadenza(solo=0), "cadenza"),
    (lead_in(figure=True), "lead-in"),
    (lead_in(solo=1), "lead-in"),
    (lead_in(solo=2, theme=1), "lead-in"),
    (flourish(), "fermata"),
    (flourish("vi", 1), "fermata"),
    (flourish("I", 1), "fermata"),
    (bare(), "long-notes"),
    (bare(), "cadence"),
)


class Made(NamedTuple):
    """One situation with what is proposed in it."""

    key: Key
    bars: list[Bar]
    kind: str
    interpretation: Interpretation
    found: list[Found]

    def letters(self, at_q: Fraction) -> set[tuple[str, int]]:
        """The chord under a moment, by construction."""
        return set(self.key.chord(self.bars[self.interpretation.score.bar_at(at_q).index].chord))


@cache
def situations() -> tuple[Made, ...]:
    """All of them, each with three proposals for the kind of place it is made for."""
    keys = [Key(tonic, mode) for mode in TONICS for tonic in TONICS[mode]]
    around = zip(cycle(METERS), cycle(INSTRUMENTS), cycle((*TEMPOS, "slow", "moderate")), cycle(AMOUNTS), strict=False)
    made = []
    for key in keys:
        for bars, kind in PROGRESSIONS:
            meter, instrument, tempo, amount = next(around)
            tempo = "moderate" if kind == "long-notes" and tempo == "fast" else tempo
            root = etree.fromstring(score(key, meter, bars, instrument=instrument, tempo=tempo))
            interpretation = interpret_analysis(Analysis(score_of(root, "made up", "0" * 64)), Wishes(solo="1"))
            wish = Wish(kinds=(kind,), how_much=amount, count=3)
            made.append(
                Made(
                    key,
                    bars,
                    kind,
                    interpretation,
                    [propose(interpretation, p, wish) for p in find_places(interpretation, wish)[0]],
                )
            )
    return tuple(made)


def proposals() -> Iterator[tuple[Made, Proposal]]:
    """Every proposal with its situation."""
    return ((made, proposal) for made in situations() for found in made.found for proposal in found.proposals)


def goal(made: Made, proposal: Proposal) -> Note:
    """The printed note that what is proposed leads to."""
    return there(following(made.interpretation, proposal)).top


def test_there_are_enough_of_them():
    """More than 300 situations, and proposals in nine of ten; where there are none, a reason."""
    found = [each for made in situations() for each in made.found]
    assert len(situations()) >= 300
    assert sum(bool(each.proposals) for each in found) >= 0.9 * len(found)
    assert all(each.why_none for each in found if not each.proposals)


def test_fermatas_are_told_apart_in_every_key():
    """Six-four, dominant, another chord (C.P.E. Bach 1753, 2.9 §2-5, read; Türk 1789, V §4, §11, read)."""
    held = [made for made in situations() if made.kind in ("cadenza", "lead-in", "fermata")]
    assert [made for made in held if [each.place.kind for each in made.found] != [made.kind]] == []


def test_every_proposal_keeps_the_laws():
    """Sums, range, augmented seconds, parallels (music21, read), and that it is played as it is written."""
    broken = []
    for made, proposal in proposals():
        compass = compass_of(made.interpretation.solo)
        broken += [
            (made.key, notes_text(proposal.line), fault)
            for fault in faults(made.interpretation, proposal, compass.easy_low, compass.easy_high)
        ]
    assert broken == []


def test_the_plan_reads_back_every_proposal():
    """What is written is what is read: pitches, values, trills."""
    assert all(proposal.line == parse_notes(notes_text(proposal.line)) for _, proposal in proposals())


def test_a_cadenza_ends_with_a_trill_before_the_final_note():
    """Türk 1789, V §11, p. 308 (read); its own or the printed one."""
    ends = [
        (made, proposal) for made, proposal in proposals() if made.kind == "cadenza" and not proposal.line.all[-1].trill
    ]
    assert all(goal(made, proposal).ornaments for made, proposal in ends)


def test_a_lead_in_arrives_by_step_on_the_theme():
    """It ends on the note above or below the theme's first (common practice, no source)."""
    gaps = {
        abs(sounding(made.interpretation, p)[-1][1].diatonic - goal(made, p).sounding.diatonic)
        for made, p in proposals()
        if made.kind == "lead-in"
    }
    assert {1} == gaps


TOLD = re.compile(
    r"the figure of bar (?P<bar>\d+)[^,]*(?:, (?P<times>twice|three times), (?:each )?a (?P<gap>\w+) (?P<way>\w+))?"
)


def test_what_is_told_of_a_figure_is_so():
    """Three notes of the bar told come back with contour and rhythm, so often and so far apart."""
    wrong, count = [], 0
    for made, proposal in proposals():
        told = TOLD.search(proposal.words)
        if told is not None:
            count += 1
            gap = {None: 0, "step": 1, "third": 2, "fourth": 3}[told["gap"]] * (-1 if told["way"] == "lower" else 1)
            times = {None: 1, "twice": 2, "three times": 3}[told["times"]]
            solo = [event for event in made.interpretation.solo.voices[0].events if event.notes]
            printed = [(e.top.sounding.diatonic, e.duration_q) for e in solo if e.bar + 1 >= int(told["bar"])]
            line = [(n.pitch.diatonic if n.pitch else 0, n.value_q) for n in proposal.line.notes]
            starts = [said_at(line, contour(*three)) for three in zip(printed, printed[1:], printed[2:], strict=False)]
            if not any({one + gap * turn for turn in range(times)} <= set(each) for each in starts for one in each):
                wrong.append((made.key, proposal.words, notes_text(proposal.line)))
    assert wrong == []
    assert count > 100


def said_at(line: list[tuple[int, Fraction]], own: tuple[bool, bool, Fraction]) -> list[int]:
    """The letter positions from which a line says a figure."""
    threes = zip(line, line[1:], line[2:], strict=False)
    return [three[0][0] for at, three in enumerate(threes) if alike(contour(*three), own, at)]


def contour(*three: tuple[int, Fraction]) -> tuple[bool, bool, Fraction]:
    """Whether each of two intervals rises, and the first note's length by the second's."""
    (one, long_q), (two, short_q), (last, _) = three
    return two > one, last > two, long_q / short_q


def alike(found: tuple[bool, bool, Fraction], own: tuple[bool, bool, Fraction], at: int) -> bool:
    """Whether three notes are the figure's; the held note, `at` 0, may be longer."""
    return found[:2] == own[:2] and (found[2] == own[2] or (at == 0 and found[2] > own[2]))


def test_runs_begin_slowly_and_grow_quicker():
    """Uneven, as if made up on the spot (Türk 1789, V §13, memory): no run is of one value but its last two notes."""
    slower, count = [], 0
    for made, proposal in proposals():
        if made.kind in ("cadenza", "lead-in", "fermata"):
            for run in runs(proposal.line.notes):
                # the first is where it comes from, the last two broaden
                inner = run[1:-2]
                count += len(inner) > 2
                if inner != sorted(inner, reverse=True) or (len(inner) > 3 and len(set(inner)) == 1):
                    slower.append((made.key, proposal.words, notes_text(proposal.line)))
    assert slower == []
    assert count > 50


def runs(notes: tuple[FreeNote, ...]) -> Iterator[list[Fraction]]:
    """The values of the notes that go on by step the same way, six or more; figures of the piece are shorter."""
    for way in (1, -1):
        run: list[Fraction] = []
        for one, other in pairwise(notes):
            if one.pitch and other.pitch and other.pitch.diatonic - one.pitch.diatonic == way:
                run = [*(run or [one.value_q]), other.value_q]
            else:
                if len(run) > 5:
                    yield run
                run = []


def test_one_breath_is_not_passed():
    """10 s (a design value; that a cadenza takes one breath: memory)."""
    lengths = [
        float(proposal.line.free_q * 60 / made.interpretation.score.tempos[0].qpm)
        for made, proposal in proposals()
        if made.kind in ("cadenza", "lead-in", "fermata")
    ]
    assert max(lengths) <= 10


def test_on_a_fermata_turning_points_belong_to_the_given_harmony():
    """Türk 1789, V §4, p. 301 (read); the last note leads on."""
    foreign = []
    for made, proposal in proposals():
        if made.kind in ("cadenza", "lead-in", "fermata"):
            line = [pitch for _, pitch in sounding(made.interpretation, proposal)][: -1 - len(proposal.line.in_time)]
            chord = made.letters(events(made.interpretation, proposal)[0].onset_q)
            for one, two, three in zip(line, line[1:], line[2:], strict=False):
                turns = (two.midi - one.midi) * (three.midi - two.midi) < 0
                by_step = abs(two.diatonic - one.diatonic) == 1 == abs(three.diatonic - two.diatonic)
                if turns and not by_step and (two.step, two.alter) not in chord:
                    foreign.append((made.key, notes_text(proposal.line), two.name))
    assert foreign == []


def test_in_time_a_foreign_note_goes_on_by_step():
    """Chord notes on the beats, others led (Tartini, memory); an anticipation is the next note already."""
    foreign = []
    for made, proposal in proposals():
        if made.kind not in ("cadenza", "lead-in", "fermata"):
            start_q = events(made.interpretation, proposal)[0].onset_q
            line = [*sounding(made.interpretation, proposal), (Q(0), goal(made, proposal).sounding)]
            for (at_q, one), (_, other) in pairwise(line):
                member = (one.step, one.alter) in made.letters(start_q + at_q)
                if not member and abs(one.diatonic - other.diatonic) > 1:
                    foreign.append((made.key, notes_text(proposal.line), one.name))
    assert foreign == []


def test_every_note_is_spelled_by_its_key():
    """Of the key, in minor melodic or harmonic (music21's scales, read), or beside a note it leads to."""
    odd = []
    for made, proposal in proposals():
        allowed = scale(made.key)
        line = [pitch for _, pitch in sounding(made.interpretation, proposal)]
        for pitch, other in pairwise([*line, goal(made, proposal).sounding]):
            below = (other.diatonic - pitch.diatonic, other.midi - pitch.midi) == (1, 1)
            if pitch.letter not in allowed and not below and not narrowed(made, pitch, proposal):
                odd.append((made.key, notes_text(proposal.line), pitch.name))
    assert odd == []


@cache
def scale(key: Key) -> frozenset[str]:
    """The letters of a key as music21 has them."""
    from music21 import scale as m21_scale

    tonic = key.tonic.replace("b", "-")
    scales: list[m21_scale.ConcreteScale] = [m21_key.Key(tonic if key.mode == "major" else tonic.lower(), key.mode)]
    if key.mode == "minor":
        scales += [m21_scale.MelodicMinorScale(tonic), m21_scale.HarmonicMinorScale(tonic)]
    names = {pitch.name for each in scales for pitch in each.getPitches(f"{tonic}3", f"{tonic}5")}
    return frozenset(re.sub("-", "b", name) for name in names)


def narrowed(made: Made, pitch: Pitch, proposal: Proposal) -> bool:
    """Whether a neighbour would else be an augmented second from a chord note (C.P.E. Bach 1753, 2.3 §19, read)."""
    from music21 import interval

    chord = made.letters(events(made.interpretation, proposal)[0].onset_q)
    beside = [Pitch(step, alter, octave) for step, alter in chord for octave in range(9)]
    plain = [Pitch(pitch.step, parse(name)[1], pitch.octave) for name in scale(made.key) if name[0] == pitch.step]
    return any(
        interval.Interval(as_music21(note), as_music21(pitch)).simpleName == "M2"
        and any(interval.Interval(as_music21(note), as_music21(each)).simpleName == "A2" for each in plain)
        for note in beside
        if abs(note.diatonic - pitch.diatonic) == 1
    )


def test_proposals_of_a_place_differ():
    """By the measure they are chosen by, and in their notes."""
    for made in situations():
        for found in made.found:
            texts = [notes_text(proposal.line) for proposal in found.proposals]
            assert len(set(texts)) == len(texts)
    assert DIFFERENT > 0.25  # values alone are a quarter of the measure: other values of the same notes are no proposal


@pytest.mark.parametrize("index", range(0, 312, 39))
def test_the_same_seed_gives_the_same(index):
    """And another may give others."""
    made = situations()[index]
    for found in made.found:
        wish = Wish(kinds=(made.kind,), how_much=AMOUNTS[index % 3], count=3)
        assert found.proposals == propose(made.interpretation, found.place, wish).proposals


def test_other_seeds_show_others():
    """Of the eight situations looked at, at least half give something else by seed 7."""
    changed = 0
    for made in situations()[::39]:
        found = made.found[-1]
        other = propose(made.interpretation, found.place, Wish(count=3, seed=7))
        changed += [p.line for p in other.proposals] != [p.line for p in found.proposals]
    assert changed >= 4
