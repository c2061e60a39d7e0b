"""The first note of a trill after a note of its own pitches, which may make no sound of its own."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import appui
from appui.listen.frames import RATE
from appui.listen.heard import HeardTrill
from appui.listen.judge import judge
from appui.listen.listen import Report, Wanted, listen_samples
from appui.sound.synth import render_blocks
from tests.listen.figure_tune import TUNE, note

NOTE_S = 0.09
MAIN, UPPER = 74, 76
#  two notes of the tune, in whose stead others stand
FIGURE = note("F4:1") + note("D5:2:turn")


def heard_with(folder: Path, notes: str, readings: dict[str, str]) -> Report:
    """What is heard in the tune with other notes in its seventh bar, played in some way."""
    assert FIGURE in TUNE
    (folder / "trill.musicxml").write_text(TUNE.replace(FIGURE, notes), encoding="utf-8")
    piece = appui.open(folder / "trill.musicxml")
    blocks = render_blocks(piece.play(readings=readings).solo().performance, sample_rate=RATE, reverb=False)
    sound = np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)
    return listen_samples(piece.interpretation, sound, "take", Wanted(solo_alone=True))


@pytest.mark.parametrize(
    ("before", "heard_first", "late", "first"),
    [
        ("D5", UPPER, True, "main"),
        ("D5", UPPER, False, "upper"),
        ("E5", MAIN, True, "upper"),
        ("E5", MAIN, False, "main"),
    ],
)
def test_the_first_note_of_a_trill_after_its_own_pitch_is_told_by_the_beat(
    tmp_path: Path, before: str, heard_first: int, late: bool, first: str
) -> None:
    """The first note of the other pitch is on the beat, or a note late where one of the pitch before came first."""
    report = heard_with(tmp_path, note(f"{before}:1") + note("D5:2:trill-mark"), {})
    number = next(n for n, each in enumerate(report.places) if each.place.name == "flute.7.3")
    begins_s = report.places[number].beat.at_s + NOTE_S * late
    keys = (heard_first, MAIN + UPPER - heard_first) * 5
    starts_s = tuple(begins_s + NOTE_S * n for n in range(len(keys)))
    made = HeardTrill(starts_s, keys, starts_s[-1] + NOTE_S, held=True)
    heard = replace(report.heard, trills={**report.heard.trills, number: made})
    trill = judge(report.line, heard)[number].trill
    assert trill is not None
    assert trill.first_sure
    assert (first, len(keys) + late) == (trill.first, trill.count)


@pytest.mark.parametrize(("words", "how"), [("before 160 ms", "before"), ("short 160 ms", "on"), ("plain", "left out")])
def test_small_notes_at_the_end_of_a_trill_are_told_from_it(tmp_path: Path, words: str, how: str) -> None:
    """C and D after a trill on D, before E: the trill's own two notes do not explain the C."""
    notes = note("D5:2:trill-mark") + note("C5:0") + note("D5:0") + note("E5:1")
    report = heard_with(tmp_path, notes, {"flute.7.4": words})
    assert how == next(each.how for each in report.places if each.place.name == "flute.7.4")


@pytest.mark.parametrize(
    ("readings", "how"),
    [
        ({"flute.7.3": "before 160 ms"}, "before"),
        ({"flute.7.3": "leaning 1/2"}, "on"),
        ({"flute.7.3": "plain", "flute.7.3.2": "trill from above"}, "left out"),
    ],
)
def test_a_small_note_of_the_pitch_of_the_trill_after_it_is_heard(
    tmp_path: Path, readings: dict[str, str], how: str
) -> None:
    """D before a trill on D: it is there where the first sound is no E."""
    notes = note("G4:1") + note("D5:0") + note("D5:2:trill-mark")
    report = heard_with(tmp_path, notes, readings)
    assert how == next(each.how for each in report.places if each.place.name == "flute.7.3")


def test_of_two_trills_in_a_row_each_has_its_own_notes(tmp_path: Path) -> None:
    """On E, then on D, whose upper note is E: neither takes notes of the other."""
    report = heard_with(tmp_path, note("E5:1:trill-mark") + note("D5:2:trill-mark"), {})
    heard = {each.place.name: each for each in report.places if each.place.name in ("flute.7.2", "flute.7.3")}
    assert 2 == len(heard)
    for each in heard.values():
        assert each.trill is not None
        assert len(each.place.decided.notes) == pytest.approx(each.trill.count, abs=2)


def test_what_would_sound_the_same_is_said_only_where_it_would(tmp_path: Path) -> None:
    """C and D before a trill on D, on the beat: a trill alone begins on D or E, never on C."""
    notes = note("G4:1") + note("C5:0") + note("D5:0") + note("D5:2:trill-mark")
    report = heard_with(tmp_path, notes, {"flute.7.3": "short 160 ms"})
    heard = next(each for each in report.places if each.place.name == "flute.7.3")
    assert ("on", ()) == (heard.how, heard.why)
