"""Each term of a level in the audio: small scores played plain and shaped, a note's level in one against the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pytest
from lxml import etree

from appui.compare.report import render_record
from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.perform.model import Performance, PerformedNote
from appui.perform.play import play
from appui.perform.terms import TERMS, worths
from appui.score.model import Score
from appui.sound.synth import Font, render_blocks
from tests.perform.playing import dynamic
from tests.realize.voices import note, small

RATE = 16_000
SF = "<direction><direction-type><dynamics><sf/></dynamics></direction-type></direction>"
DOT, ACCENT = (f"<articulations><{sign}/></articulations>" for sign in ("staccato", "accent"))
CHORD = note("C4", 16) + note("E4", 16, chord=True) + note("G4", 16, chord=True)
OCTAVES = note("C3", 16) + note("C4", 16, chord=True) + note("C4", 16) + note("C5", 16, chord=True)
LEANING = note("G5", 16) + note("E5", 16), small("F5") + note("E5", 32)
Place = tuple[int, int]


class Case(NamedTuple):
    """A score with two notes (part, place in it) that differ in a term by so many of its units, and what is asked."""

    term: str
    units: float
    parts: tuple[tuple[str, ...], ...]
    one: Place
    other: Place
    wishes: tuple[tuple[str, Any], ...] = ()


def lone(*bars: str) -> tuple[tuple[str, ...], ...]:
    """One part."""
    return (bars,)


LEAN = (("takes", ("oboe.2.1=leaning 1/2",)),)
CASES = {
    "marks, p to f": Case(
        "written", 5.0, lone(dynamic("p") + note("E5", 32), dynamic("f") + note("E5", 32)), (0, 1), (0, 0)
    ),
    "marks, f to ff": Case(
        "written", 0.7, lone(dynamic("f") + note("E5", 32), dynamic("ff") + note("E5", 32)), (0, 1), (0, 0)
    ),
    "sf": Case("stress", 1.0, lone(note("E5", 16) + SF + note("E5", 16)), (0, 1), (0, 0)),
    "the upper voice": Case("lead", 1.0, lone(CHORD + CHORD), (0, 2), (0, 0)),
    "the solo": Case("lead", 1.0, ((note("C4", 32),), (note("G5", 32),)), (0, 0), (1, 0)),
    "an octave": Case("pitch", 1.0, lone(note("C4", 16) + note("C5", 16)), (0, 1), (0, 0)),
    "an octave in the leading voice": Case("height", 1.0, lone(note("C4", 16) + note("C5", 16)), (0, 1), (0, 0)),
    "a wide bar": Case("span", 2.0, lone(note("C4", 32), OCTAVES), (0, 3), (0, 0)),
    "a bar in octaves": Case("octaves", 1.0, lone(note("C4", 32), OCTAVES), (0, 3), (0, 0)),
    "more notes": Case("density", 2.0, lone(note("E5", 32), note("E5", 8) * 4), (0, 1), (0, 0)),
    "after a longer time": Case("quick", 1.0, lone(note("E5", 8) * 2 + note("F5", 16), note("E5", 32)), (0, 3), (0, 2)),
    "accompanying": Case("under", 1.0, ((note("G5", 32),), (note("C4", 32),)), (1, 0), (0, 0)),
    "the top of a hand": Case("hand", 1.0, lone(CHORD + CHORD), (0, 2), (0, 1)),
    "struck again": Case(
        "repeated", 1.0, lone(note("C5", 8) + note("D5", 8) + note("D5", 8) + note("R", 8)), (0, 2), (0, 1)
    ),
    "a chord of the accompaniment struck again": Case(
        "repeated", 1.0, ((note("G5", 32),), (CHORD + CHORD,)), (1, 4), (1, 1)
    ),
    "longer than the one before": Case(
        "longer", 1.0, lone(note("E5", 8) + note("F5", 16) + note("R", 8)), (0, 1), (0, 0)
    ),
    "a dot": Case("detached", 1.0, lone(note("E5", 16) + note("E5", 16, DOT)), (0, 1), (0, 0)),
    "an accent": Case("accent", 3.0, lone(note("E5", 16) + note("E5", 16, ACCENT)), (0, 1), (0, 0)),
    "the sigh": Case("sigh", 3.1, lone(*LEANING), (0, 2), (0, 3), LEAN),
    "the light release": Case("sigh", -1.55, lone(*LEANING), (0, 3), (0, 0), LEAN),
    "the weight asked for": Case("weight", 6.0, lone(*LEANING), (0, 2), (0, 3), (*LEAN, ("weight_db", Fraction(6)))),
    "the note before a leaning one": Case("approach", 1.0, lone(*LEANING), (0, 1), (0, 2), LEAN),
    "the note before that": Case("approach", 0.5, lone(*LEANING), (0, 0), (0, 2), LEAN),
}


def score_with(parts: tuple[tuple[str, ...], ...]) -> Score:
    """A score at 60 quarters a minute; the first part, an oboe, is the solo."""
    head = (
        "<attributes><divisions>8</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
        "<sound tempo='60'/>"
    )
    names = [f"<score-part id='P{at}'><part-name>{name}</part-name></score-part>" for at, name in _named(parts)]
    bars = [
        f"<part id='P{at}'>"
        + "".join(f"<measure number='{n}'>{head if n == 1 else ''}{bar}</measure>" for n, bar in enumerate(part, 1))
        + "</part>"
        for at, part in enumerate(parts)
    ]
    text = f"<score-partwise><part-list>{''.join(names)}</part-list>{''.join(bars)}</score-partwise>"
    return score_of(etree.fromstring(text), "x")


def _named(parts: tuple[tuple[str, ...], ...]) -> Iterator[tuple[int, str]]:
    return enumerate(("Oboe", "Clarinet")[: len(parts)])


class Played(NamedTuple):
    """A performance, and what `render --json` tells of it."""

    performance: Performance
    told: dict[str, Any]

    def note(self, place: Place) -> PerformedNote:
        """A note."""
        return self.performance.parts[place[0]].notes[place[1]]

    def terms(self, place: Place) -> dict[str, float]:
        """What its level is told to be the sum of."""
        return dict(self.told["parts"][place[0]]["notes"][place[1]]["terms"])

    def told_db(self, place: Place) -> float:
        """Its level as told."""
        return float(self.told["parts"][place[0]]["notes"][place[1]]["level_db"])


def played(case: Case, **wishes: Any) -> Played:
    """A case played."""
    player = interpret_analysis(Analysis(score_with(case.parts)), Wishes(solo="Oboe", **dict(case.wishes), **wishes))
    made = play(player, player.order(None))
    return Played(made, render_record(player, made, ()))


@pytest.fixture(scope="module")
def sound() -> Iterator[Callable[[Played, Place], Any]]:
    """What sounds of one note of a performance, all others silent, from where it begins."""
    font = Font()

    def alone(made: Played, place: Place) -> Any:
        part, one = made.performance.parts[place[0]], made.note(place)
        only = replace(made.performance, parts=(replace(part, notes=(one,)),))
        heard = np.concatenate(list(render_blocks(only, font, sample_rate=RATE, reverb=False)))
        return heard[round(one.onset_s * RATE) :].astype(np.float64)

    yield alone
    font.close()


def level_db(heard: Any, start_s: float, stop_s: float) -> float:
    """The level of a stretch."""
    return 10 * math.log10(float(np.mean(np.square(heard[round(start_s * RATE) : round(stop_s * RATE)]))) + 1e-20)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_a_term_is_heard(case: Case, sound) -> None:
    """Two notes differ by what the term is worth, and sound, against plain, as their terms add up: within 0.2 dB."""
    plain, shaped = (played(case, shape=shape) for shape in ("plain", "shaped"))
    worth = worths()[case.term].db if case.term in TERMS else 1.0
    one, other = (shaped.terms(place).get(case.term, 0.0) for place in (case.one, case.other))
    assert case.units * worth == pytest.approx(one - other, abs=0.01)
    for place in (case.one, case.other):
        stop_s = 0.95 * min(plain.note(place).duration_s, shaped.note(place).duration_s)
        heard_db = [level_db(sound(made, place), 0.05, stop_s) for made in (plain, shaped)]
        said_db = sum(shaped.terms(place).values()) - plain.told_db(place)
        assert said_db == pytest.approx(heard_db[1] - heard_db[0], abs=0.2)


def test_every_term_has_its_case() -> None:
    """Those of the table, and those a player adds."""
    assert {*TERMS, "accent", "approach", "sigh", "weight"} == {case.term for case in CASES.values()}


def test_the_release_is_heard_short(sound) -> None:
    """Released after half of its second, where the slur ends: what is left is 20 dB below what plain playing holds."""
    bar, asked = small("F5") + note("E5", 16) + note("R", 16), (("takes", ("oboe.1.1=leaning 1/2",)),)
    case = Case("sigh", 0.0, lone(bar), (0, 1), (0, 0), asked)
    plain, shaped = (level_db(sound(played(case, shape=shape), case.one), 0.7, 0.9) for shape in ("plain", "shaped"))
    assert shaped < plain - 20
