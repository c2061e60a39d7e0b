"""Figures and places that decide before the general rule does."""

from fractions import Fraction
from typing import Any

import pytest

from appui.interpret.realizing import realize
from tests.situations.spelling import choices, played, situation

C = "C3+E3+G3:4"


def _first(music: str, bass: str = f"{C} | {C}", **more: Any) -> str:
    return choices(situation(music, bass, **more))[0].reading.text


@pytest.mark.parametrize("style", ["harmony", "bach-1753", "tuerk-1789", "clementi-1801", "hummel-1828", "grove-1879"])
@pytest.mark.parametrize("last", ["C5", "A4"])
def test_small_note_eighth_and_two_sixteenths_are_even(style: str, last: str) -> None:
    """Clementi 1801 (read): a small 16th before an 8th is a 16th; the whole figure common practice."""
    assert "leaning 1/2" == _first(f"D5s>C5:1/2 B4:1/4 {last}:1/4 G4:3 | C5:4", style=style)


@pytest.mark.parametrize("style", ["harmony", "tuerk-1789", "clementi-1801", "hummel-1828"])
def test_a_turn_around_the_note_before_is_in_its_time(style: str) -> None:
    """Clementi 1801 (turn after a plain quarter) and Türk 1789, III §27-29 (both read)."""
    assert _first("C5:1 D5s,C5s,B4s,C5s>E5:1 G4:2 | C5:4", style=style).startswith("before")


def test_where_a_source_forbids_that_it_says_so() -> None:
    """C.P.E. Bach 1753, 2.1 §23 (read): all small notes belong to the note that follows."""
    (choice,) = choices(situation("C5:1 D5s,C5s,B4s,C5s>E5:1 G4:2 | C5:4", f"{C} | {C}", style="bach-1753"))
    assert "short" == choice.reading.name
    assert "with him all small notes belong to the note that follows" in choice.why


@pytest.mark.parametrize("style", ["harmony", "bach-1753", "tuerk-1789"])
def test_before_a_syncopated_note_it_is_short(style: str) -> None:
    """C.P.E. Bach 1753, 2.2 §13 (read)."""
    assert "short" == _first("C5:1/2 F5e>E5:1 G5:1/2 G5:2 | C5:4", style=style)


@pytest.mark.parametrize(
    ("music", "bass", "expected"),
    [
        # value, harmony and rest agree
        ("G4:1 D5q>C5:1 r:2 | C5:4", f"{C} | {C}", "leaning 1"),
        # staccato
        ("G4:1 D5q>C5:1. r:2 | C5:4", f"{C} | {C}", "short"),
        # the chord changes at the rest
        ("G4:1 D5q>C5:1 r:2 | C5:4", "C3+E3+G3:2 G2+B3+D4:2 | C3:4", "leaning 1/2"),
        # a small sixteenth where others are quarters
        ("G4:1 D5s>C5:1 r:2 | C5:4", f"{C} | {C}", "leaning 1/2"),
    ],
)
def test_into_the_rest_only_where_all_allows_it(music: str, bass: str, expected: str) -> None:
    """C.P.E. Bach 1753, 2.2 §12 (read in part); Türk 1789, III §25 (read): shorter where harmony suffers."""
    assert expected == _first(music, bass, style="bach-1753")


def test_a_tied_note_gives_its_first_half_whole_and_the_release_is_the_second() -> None:
    """Gehrkens 1914, §74 (read): the value of the first of the two."""
    made = situation("E5:2 D5h>C5:2_ | ^C5:2 r:2", f"{C} | {C}", style="bach-1753")
    tones = realize(made, made.order(repeats=False)).tones[0]
    lean, release = (tone for tone in tones if tone.sign)
    assert ("lean", "release") == (lean.role, release.role)
    assert 2 == lean.onset_q
    assert 4 == release.onset_q


def test_two_small_notes_together_delay_both() -> None:
    """Common practice, no source: each note of a small chord delays its own."""
    made = situation("G4:2 D5e+F5e>C5+E5:2", C)
    tones = realize(made, made.order(repeats=False)).tones[0]
    assert {("D5", "lean"), ("F5", "lean")} == {(t.pitch.name, t.role) for t in tones if t.onset_q == 2}
    assert {("C5", "release"), ("E5", "release")} == {(t.pitch.name, t.role) for t in tones if t.onset_q > 2}


def test_one_small_note_delays_its_own_note_of_a_chord_only() -> None:
    """Grove's Dictionary vol. 1 (1879), p. 76 (read)."""
    made = situation("G4:1 F5e>C5+E5:2 r:1", C)
    tones = realize(made, made.order(repeats=False)).tones[0]
    assert {"C5", "F5"} == {t.pitch.name for t in tones if t.onset_q == 1}


@pytest.mark.parametrize(
    ("ending", "notes"),
    [
        ("C5:1/2 D5:1/2 | C5:4", []),  # at full size
        ("C5s,D5s>C5:1 | C5:4", []),  # in small notes
        ("C5:1 | C5:4", []),  # an anticipation (Türk 1789, IV.3 §36, read)
        ("E5:1 | C5:4", ["C5", "D5"]),  # not at all: one is added
    ],
)
def test_a_printed_ending_is_the_ending(ending: str, notes: list[str]) -> None:
    """C.P.E. Bach 1753, 2.3 §16 (read): where short notes serve as the ending, none is added."""
    trill = played(situation(f"D5:3!tr {ending}", "G2+B3+F4:4 | C3+E3+G3:4"), "trill")
    assert notes == [name for name in trill if name not in ("D5", "E5")] + (["D5"] if notes else [])


def test_slow_notes_after_a_trill_are_melody() -> None:
    """Two half notes after a whole one are no ending."""
    trill = played(situation("D5:4!tr | C5:2 D5:2 | E5:4", "G2+B3:4 | G2+B3:4 | C3:4"), "trill")
    assert ["C5", "D5"] == trill[-2:]


@pytest.mark.parametrize("qpm", [90, 110, 150])
def test_a_short_trill_has_four_notes_from_160_ms_on(qpm: int) -> None:
    """Performances of today: 4 to 5 notes ((n)ASAP, computed)."""
    trill = played(situation("C5:1/2 D5:1/2!tr G5:3 | C5:4", "G2+B3:4 | C3:4", qpm=qpm), "trill")
    assert len(trill) >= 4


def test_a_chain_is_to_a_trill_a_step_away() -> None:
    """C.P.E. Bach 1753, 2.3 §16 (read); after a leap the trill has its ending."""
    step = choices(situation("D5:2!tr E5:2!tr | C5:4", "G2+B3:4 | C3:4"), "trill")[0]
    leap = choices(situation("D5:2!tr G5:2!tr | C5:4", "G2+B3:4 | C3:4"), "trill")[0]
    assert ("no", "yes") == (step.reading.get("termination"), leap.reading.get("termination"))


@pytest.mark.parametrize("style", ["clementi-1801", "hummel-1828"])
@pytest.mark.parametrize("mark", ["!turn", "!mordent"])
def test_a_quick_figure_stays_quick_on_a_long_note(style: str, mark: str) -> None:
    """García (read in an excerpt): a turn lasts a sixteenth at 100 whatever its note."""
    made = situation(f"C5:4{mark} | C5:4", f"{C} | {C}", style=style, qpm=40)
    tones = [t for t in realize(made, made.order(repeats=False)).tones[0] if t.sign]
    assert all(tone.duration_q * 60 / 40 <= 0.15 for tone in tones[:-1])


def test_in_triple_time_the_long_kind_stands_on_the_downbeat() -> None:
    """C.P.E. Bach 1753, 2.2 §9 (read)."""
    music, bass = "A4:1 D5e>C5:1 G4:1 | D5e>C5:1 E5:1 G4:1", "C3+E3+G3:3 | C3+E3+G3:3"
    on_two, on_one = choices(situation(music, bass, meter="3/4", style="bach-1753"))
    assert ("short", "leaning") == (on_two.reading.name, on_one.reading.name)


def test_a_note_printed_small_before_its_own_turn_leaves_room_for_all_of_it() -> None:
    """On a note of a third of a second, too: the note, then upper, main and lower note, and the note."""
    made = situation("G4e>G4:3/4!turn C5:1/4 C5:3 | C5:4", f"{C} | {C}", qpm=130)
    tones = realize(made, made.order(repeats=False)).tones[0]
    heard = [tone.pitch.name for tone in tones if tone.onset_q < Fraction(3, 4)]
    assert ["G4", "A4", "G4", "F#4", "G4"] == heard


@pytest.mark.parametrize(
    ("year", "expected"),
    [(1740, ("short", "slide")), (None, ("before", "in early music a slide")), (1810, ("before", "a group"))],
)
def test_two_small_notes_that_rise_are_a_slide_in_early_music(year: int | None, expected: tuple[str, str]) -> None:
    """C.P.E. Bach 1753, 2.1 §23-24 and 2.7 §2-5 (read): on the beat; where no year is known, both are offered."""
    (choice,) = choices(situation("G4:2 C5s,D5s>E5:2 | C5:4", f"{C} | {C}", year=year))
    assert (expected[0], True) == (choice.reading.name, expected[1] in choice.why)
    assert year == 1810 or {"short", "before"} <= {choice.reading.name, *choice.alternatives}


@pytest.mark.parametrize(("qpm", "expected"), [(120, "short"), (40, "leaning")])
def test_before_a_repeated_note_it_is_short_where_the_note_is(qpm: int, expected: str) -> None:
    """C.P.E. Bach 1753, 2.2 §13 (read): before quick notes; a note of over a second is none."""
    (choice,) = choices(situation("G4:2 D5e>C5:1 C5:1 | C5:4", f"{C} | {C}", qpm=qpm))
    assert expected == choice.reading.name
