"""Long notes that swell: which ones, and what is heard of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.interpret.wishes import LongNotes, Wishes
from appui.perform.long_notes import can_swell
from appui.perform.play import play
from tests.realize.voices import note, score

EXPRESSION = 11


def part_of(*bars: str, long_notes: LongNotes = "swell"):
    """The one part, an oboe at 60 quarters a minute, as performed."""
    player = interpret_analysis(Analysis(score(*bars)), Wishes(long_notes=long_notes))
    made = play(player, player.order(None))
    return made, made.parts[0]


def test_a_long_note_swells_and_is_full_again_after_it() -> None:
    """Soft, loudest at three fifths, soft; the last value gives the channel back."""
    _, part = part_of(note("E5", 32) + note("F5", 0 + 8), note("F5", 8))
    values = [one.value for one in part.controls if one.number == EXPRESSION and one.onset_q < 4]
    assert values[0] < max(values) > values[-1]
    assert 127 == next(one.value for one in part.controls if one.onset_q == 4)


@pytest.mark.parametrize(
    ("bar", "why"),
    [
        (note("E5", 8) * 4, "short"),
        (note("C5", 32) + note("E5", 32, chord=True), "not alone"),
    ],
)
def test_other_notes_stay_even(bar, why) -> None:
    """No expression is written."""
    assert () == part_of(bar)[1].controls, why


def test_left_out_all_notes_are_even() -> None:
    """Only where it is asked for."""
    assert () == part_of(note("E5", 32), long_notes="even")[1].controls


@pytest.mark.parametrize(("program", "can"), [(0, False), (6, False), (24, False), (40, True), (68, True), (73, True)])
def test_only_what_is_bowed_blown_or_sung_swells(program, can) -> None:
    """Not what is struck or plucked."""
    assert can == can_swell(program)


def test_four_decibels_are_heard() -> None:
    """The beginning against the middle of a clarinet's note, against the same played even: 4 dB softer, within 0.4."""
    from appui.sound.synth import RATE, render_blocks

    levels = {}
    for how in ("even", "swell"):
        made, part = part_of(note("E5", 32), long_notes=how)
        made = replace(made, parts=(replace(part, program=71),))
        sound = np.concatenate(list(render_blocks(made, reverb=False)))
        levels[how] = [
            20 * math.log10(float(np.sqrt(np.mean(sound[round(at * RATE) : round((at + 0.1) * RATE)] ** 2))))
            for at in (0.05, 2.35)
        ]
    softer = [levels["even"][place] - levels["swell"][place] for place in (0, 1)]
    assert softer == pytest.approx([3.8, 0.0], abs=0.4)
