"""Turns, mordents and short trills in takes without human timing."""

import json
import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

import appui
from appui.exact import Fraction
from appui.listen.align import Aligned, Fitting, Found
from appui.listen.beat import Beat
from appui.listen.figure_words import decided_figure, figure_differs
from appui.listen.figured import Ground, laid, say_figure
from appui.listen.figures import hear_figure
from appui.listen.frames import FRAME_S, RATE
from appui.listen.heard import HeardFigure
from appui.listen.judge import Heard
from appui.listen.line import Decided, Line, Place, Step, line_of
from appui.listen.listen import Report, Wanted, listen, listen_samples
from appui.listen.picture import picture
from appui.listen.records import record
from appui.listen.report import records_csv, told_at
from appui.listen.take import Take
from appui.score.pitch import Pitch
from appui.score.signs import Sign
from appui.score.words import SignKind
from appui.sound.synth import render_blocks
from tests.listen.figure_tune import TUNE, note

#  ways that are otherwise than decided, by place
OTHER = {
    "flute.2.1": "turn after the note beginning at 1/2",
    "flute.4.1": "plain",
    "flute.5.2": "trill from above half without termination",
    "flute.6.1": "plain",
}
ON_TIME = Ground(Beat(1.0, 0.01), 0.02, 0.8, 70, "turn")
TURN = HeardFigure((1.0, 1.08, 1.16, 1.24), (74, 72, 71, 72), 1.8, 60.0, 30.0, 30.0, 1.0)


@pytest.fixture(scope="module")
def tune(tmp_path_factory: pytest.TempPathFactory) -> appui.Piece:
    """The tune, opened."""
    path = tmp_path_factory.mktemp("tune") / "tune.musicxml"
    path.write_text(TUNE, encoding="utf-8")
    return appui.open(path)


Reports = Callable[[dict[str, str]], Report]


@pytest.fixture(scope="module")
def heard_in(tune: appui.Piece) -> Reports:
    """What is heard in the tune rendered with some readings changed."""

    def hear(readings: dict[str, str]) -> Report:
        solo = tune.play(readings=readings).solo().performance
        blocks = render_blocks(solo, sample_rate=RATE, reverb=False)
        take = np.concatenate([block.mean(axis=1) for block in blocks]).astype(np.float32)
        return listen_samples(tune.interpretation, take, "take", Wanted())

    return hear


@pytest.fixture(scope="module")
def as_decided(heard_in: Reports) -> dict[str, Heard]:
    """The figures of the tune as they were decided, but that after a small note."""
    heard = by_name(heard_in({}))
    return {name: each for name, each in heard.items() if not name.startswith("flute.8")}


@pytest.fixture(scope="module")
def otherwise(heard_in: Reports) -> Report:
    """The tune played otherwise than decided."""
    return heard_in(OTHER)


def by_name(report: Report) -> dict[str, Heard]:
    """The places of a report."""
    return {each.place.name: each for each in report.places}


def test_every_figure_of_a_rendering_is_heard_note_by_note(as_decided) -> None:
    """Which notes, by their keys: what the tool plays the tool hears."""
    assert 6 == len(as_decided)
    for name, each in as_decided.items():
        assert each.figure is not None, name
        assert each.place.decided.notes == each.figure.keys, name


def test_every_figure_of_a_rendering_is_heard_where_it_was_decided(as_decided) -> None:
    """On the beat, or late in the note; none differs."""
    assert {each.place.decided.placement for each in as_decided.values()} == {"on", "after"}
    for name, each in as_decided.items():
        assert each.place.decided.placement == each.how, name
        assert 0 == figure_differs(each), name


def test_the_length_of_a_figure_is_heard(as_decided) -> None:
    """Three quick notes at thirteen a second, within a sixth: slow attacks lengthen what is heard."""
    assert 3 / 13 == pytest.approx(as_decided["flute.7.3"].length_s, rel=0.17)


def test_a_turn_after_its_note_is_heard_where_in_the_note_it_begins(otherwise) -> None:
    """Half way, within a twentieth of the note."""
    place = by_name(otherwise)["flute.2.1"]
    assert place.figure is not None
    assert "after" == place.how
    assert 0.5 == pytest.approx(place.figure.at_share, abs=0.05)
    assert "turn: G5 A5 G5 F5 G5, after about half of the note" in told_at(place).played


def test_a_plain_note_is_no_figure(otherwise) -> None:
    """Left out, or not told; never claimed."""
    for name in ("flute.4.1", "flute.6.1"):
        assert by_name(otherwise)[name].figure is None
    assert "left out" == by_name(otherwise)["flute.6.1"].how


def test_other_notes_than_decided_are_told(otherwise) -> None:
    """A short trill from above, where it was to begin on the main note."""
    place = by_name(otherwise)["flute.5.2"]
    assert place.figure is not None
    assert (77, 76, 77, 76) == place.figure.keys
    assert 2 == figure_differs(place)
    assert "other notes than decided" in told_at(place).remark


def test_figures_are_named_beside_what_was_decided(as_decided) -> None:
    """By the names they are written with."""
    assert "turn on the note: E5 D5 C5 D5, from the beat, 230 ms" == decided_figure(as_decided["flute.7.3"].place)
    assert told_at(as_decided["flute.7.3"]).played.startswith("turn: E5 D5 C5 D5, from the beat, ")


def test_a_figure_is_in_the_record_the_table_and_the_picture(otherwise) -> None:
    """Names, times and the share of the note; a bar a note."""
    place = next(each for each in record(otherwise)["places"] if each["place"] == "flute.2.1")
    assert ["G5", "A5", "G5", "F5", "G5"] == place["played"]["figure"]["notes"]
    json.dumps(record(otherwise), allow_nan=False)
    assert "G5 A5 G5 F5 G5" in records_csv([otherwise])
    assert 5 + 2 == picture(by_name(otherwise)["flute.2.1"], "a turn", None, FRAME_S).count("<rect")


def test_a_late_figure_is_shown_to_its_end(otherwise) -> None:
    """However long its note is, no bar of it lies on the edge of the picture."""
    place = by_name(otherwise)["flute.3.1"]
    assert place.main_s - place.beat.at_s > 1.5
    drawn = etree.fromstring(picture(place, "a turn", None, FRAME_S).encode())
    bars = drawn.findall("{*}rect")[2:]
    assert 5 == len({float(bar.get("x", "")) for bar in bars})
    assert all(float(bar.get("x", "")) + float(bar.get("width", "")) < 700 for bar in bars)


def test_a_midi_file_is_heard_exactly(tune, tmp_path: Path) -> None:
    """Every note to the tick."""
    tune.play(readings=OTHER).solo().save(tmp_path / "take.mid")
    heard = by_name(listen(tune.interpretation, tmp_path / "take.mid", Wanted()))
    turn = heard["flute.7.3"]
    assert turn.figure is not None
    assert (76, 74, 72, 74) == turn.figure.keys
    assert np.diff(turn.figure.starts_s) == pytest.approx(1 / 13, abs=0.001)
    assert "left out" == heard["flute.4.1"].how


def test_a_short_trill_that_goes_on_is_heard_as_a_trill(tune, tmp_path: Path) -> None:
    """Through the whole note."""
    tune.play(readings={"flute.5.2": "trill from above without termination"}).solo().save(tmp_path / "take.mid")
    heard = by_name(listen(tune.interpretation, tmp_path / "take.mid", Wanted()))["flute.5.2"]
    assert heard.trill is not None
    assert "upper" == heard.trill.first


def test_two_figures_in_a_row_are_not_mixed(tmp_path: Path) -> None:
    """E D E F E, then F E F: which of the last five belong together is not guessed."""
    notes = "<measure number='10'>" + "".join(map(note, ("E4:1:delayed-inverted-turn", "F4:1:mordent", "D5:2")))
    path = tmp_path / "row.musicxml"
    path.write_text(TUNE.replace("</part>", notes + "</measure></part>"), encoding="utf-8")
    row = appui.open(path)
    row.play().solo().save(tmp_path / "take.mid")
    heard = by_name(listen(row.interpretation, tmp_path / "take.mid", Wanted()))
    assert "inverted turn: E4 D4 E4 F4 E4" in told_at(heard["flute.10.1"]).played
    assert heard["flute.10.2"].figure is None


def test_a_turn_after_a_small_note_of_its_pitch_is_not_judged(otherwise) -> None:
    """What is heard may be the one or the other."""
    place = by_name(otherwise)["flute.8.3.2"]
    assert "cannot tell" == place.how
    assert "the small notes before it have the same pitches" in place.why


SLURRED = (74, 74, 72, 71, 72)


def made(
    keys: tuple[int, ...],
    kind: SignKind = "turn",
    *,
    struck: bool = False,
    doubt: float = 4.0,
    decided: tuple[int, ...] = (74, 72, 71, 72),
) -> HeardFigure:
    """What is heard where these keys sound for 14 frames each, the first and the last for 60, then a G5.

    What does not sound fits worse by 4; by less where the key 71 does, if that is in doubt. `struck` is the first of
    them.
    """
    lengths = [60, *[14] * (len(keys) - 2), 60, 60]
    sounding = np.repeat([*keys, 79], lengths)
    known = (70, 71, 72, 73, 74, 75, 79)
    fits = [np.where(sounding == key, 0.0, np.where(sounding == 71, -doubt, -4.0)) for key in known]
    count = len(sounding)
    rise = np.zeros(count + 1)
    rise[60] = 2.0 * struck
    fitting = Fitting(known, np.array(fits, np.float32), np.full(count, -3.0), np.full(count, -5.0), rise)
    starts = (0, 60, count - 60)
    found = tuple(Found(at, end) for at, end in pairwise((*starts, count)))
    take = Take(np.zeros(0, np.float32), np.zeros((0, 0), np.float16), np.zeros(count), rise[:-1], 440.0, -90.0)
    quarter, also = Fraction(1), tuple(sorted({70, 71, 73, 74, *decided} - {72}))
    steps = (
        Step(0 * quarter, quarter, 0.0, keys[0], "1"),
        Step(quarter, quarter, 0.35, 72, "1", also=also),
        Step(2 * quarter, quarter, 1.0, 79, "1"),
    )
    sign, written = Sign("flute.1.2", kind, 0, 0, 1, 0), Pitch("C", 0, 5)
    place = Place(sign, 1, 1, (), Decided("", "on", notes=decided), written=written)
    return hear_figure(Line(steps, (place,)), place, take, Aligned(found, (1.0,) * 3, fitting, 0.0))


def test_a_first_note_of_the_pitch_before_it_counts_only_where_it_is_struck() -> None:
    """Slurred, it is none that can be heard; struck, it is the first of the turn."""
    assert (72, 71, 72) == made(SLURRED).keys
    assert (74, 72, 71, 72) == made(SLURRED, struck=True).keys


def test_a_neighbour_may_be_an_augmented_second_away_where_it_is_decided() -> None:
    """As above the sixth of a minor key."""
    keys = (79, 75, 72, 71, 72)
    assert keys[1:] == made(keys, decided=keys[1:]).keys


def test_the_line_knows_a_neighbour_an_augmented_second_away(tmp_path: Path) -> None:
    """A turn on F with a sharp above it: G sharp may sound within the note."""
    sharp = "<delayed-turn/><accidental-mark placement='above'>sharp</accidental-mark>"
    (tmp_path / "sharp.musicxml").write_text(TUNE.replace("<delayed-turn/>", sharp), encoding="utf-8")
    raised = appui.open(tmp_path / "sharp.musicxml").interpretation
    line = line_of(raised, raised.order("3"))
    assert (77, 80, 77, 76, 77) == line.places[0].decided.notes
    assert 80 in line.steps[line.places[0].step].also


def test_what_is_usual_for_a_sign_decides_where_the_sound_does_not() -> None:
    """A lower note hardly heard belongs to a turn, and to no short trill."""
    keys = (79, 74, 72, 71, 72)
    assert (74, 72, 71, 72) == made(keys, doubt=1.0).keys
    assert (74, 72) == made(keys, "short trill", doubt=1.0).keys


def test_a_figure_whose_last_note_is_on_the_beat_is_before_it() -> None:
    """The main note at rest has the beat."""
    said = say_figure(TURN, ON_TIME._replace(beat=Beat(1.24, 0.01)))
    assert "before" == said.how
    assert "on" == say_figure(TURN, ON_TIME).how


def test_on_the_beat_is_likelier_than_before_it() -> None:
    """Half way between the two it is not told, but not held for as likely."""
    said = say_figure(TURN, ON_TIME._replace(beat=Beat(1.12, 0.2), spread_s=0.2))
    assert "played" == said.how
    assert 0.7 < said.on < 0.85


def test_a_first_note_of_the_pitch_before_it_is_told_by_the_beat() -> None:
    """What is heard comes a quick note late: the turn began with the upper note that rang already."""
    rest = TURN._replace(starts_s=(1.08, 1.16, 1.24), keys=(72, 71, 72))
    said = say_figure(rest, ON_TIME._replace(before=74))
    assert said.figure is not None
    assert ("on", (74, 72, 71, 72)) == (said.how, said.figure.keys)
    assert math.isnan(said.figure.starts_s[0])
    unknown = say_figure(rest, ON_TIME._replace(before=74, beat=Beat(1.04, 0.08), spread_s=0.08))
    assert unknown.figure is not None
    assert not unknown.figure.first_sure


def test_a_note_far_away_is_no_first_note_of_a_figure() -> None:
    """An octave above the main note there is no neighbour."""
    rest = TURN._replace(starts_s=(1.0, 1.08, 1.16), keys=(72, 71, 72))
    said = say_figure(rest, ON_TIME._replace(before=84))
    assert said.figure is not None
    assert ((72, 71, 72), True) == (said.figure.keys, said.figure.first_sure)


def test_a_slide_is_heard_by_its_third(tmp_path: Path) -> None:
    """A third below, large or small, a second below, main."""
    slides = TUNE.replace("<mordent/>", "<schleifer/>").replace("<inverted-turn/>", "<schleifer/>")
    (tmp_path / "slide.musicxml").write_text(slides, encoding="utf-8")
    slide = appui.open(tmp_path / "slide.musicxml")
    slide.play().solo().save(tmp_path / "take.mid")
    heard = by_name(listen(slide.interpretation, tmp_path / "take.mid", Wanted()))
    assert "slide: A4 B4 C5, from the beat, 150 ms" == told_at(heard["flute.4.1"]).played
    assert "slide: F4 G4 A4, from the beat, 150 ms" == told_at(heard["flute.6.1"]).played
    assert 0 == figure_differs(heard["flute.4.1"])


@pytest.mark.parametrize(
    ("heard", "how"),
    [
        (TURN._replace(evidence=-40.0), "left out"),
        (TURN._replace(evidence=0.0), "cannot tell"),
        (TURN._replace(starts_s=(1.5, 1.58, 1.66, 1.74)), "cannot tell"),
        (TURN._replace(starts_s=(1.0, 1.3, 1.6, 1.9), end_s=2.4), "cannot tell"),
    ],
)
def test_what_is_no_figure_is_not_claimed(heard: HeardFigure, how: str) -> None:
    """Nothing there, hardly anything, far from the beat, too slow."""
    assert how == say_figure(heard, ON_TIME).how


def test_notes_that_others_fit_as_well_are_not_named() -> None:
    """The figure is there; which notes it has is open."""
    said = say_figure(TURN._replace(over_other=2.0), ON_TIME)
    assert said.figure is not None
    assert not said.figure.sure


def test_before_the_beat_a_first_note_that_rang_already_cannot_be_told() -> None:
    """Nothing says how early it would have begun."""
    rest = TURN._replace(starts_s=(1.08, 1.16, 1.24), keys=(72, 71, 72))
    said = say_figure(rest, ON_TIME._replace(before=74, beat=Beat(1.24, 0.01)))
    assert said.figure is not None
    assert ("before", False) == (said.how, said.figure.first_sure)


@pytest.mark.parametrize(
    ("figure", "words", "remark"),
    [
        (TURN, "turn: D5 C5 B4 C5, from the beat, 240 ms", ""),
        (TURN._replace(over_near=1.0), "turn, from the beat, 240 ms", "a half or a whole tone away cannot be told"),
        (TURN._replace(over_other=1.0), "quick notes, which ones cannot be told, from the beat, 240 ms", ""),
    ],
)
def test_only_what_is_sure_of_the_notes_is_said(figure: HeardFigure, words: str, remark: str) -> None:
    """The names, the kind only, or that there are quick notes."""
    said = say_figure(figure, ON_TIME)
    assert said.figure is not None
    place = Place(Sign("flute.1.2", "turn", 0, 0, 1, 0), 1, 1, (), Decided("", "on"), written=Pitch("C", 0, 5))
    heard = Heard(place, said.how, 1.0, 1.0, ON_TIME.beat, length_s=0.24, figure=said.figure)
    assert words == told_at(heard).played
    assert remark in told_at(heard).remark


def test_without_a_beat_a_figure_is_heard_all_the_same() -> None:
    """Only where it falls is not told."""
    said = say_figure(TURN, ON_TIME._replace(beat=Beat(math.nan, math.inf)))
    assert "played" == said.how
    assert said.figure is not None


def test_a_main_note_held_first_is_not_of_the_quick_ones() -> None:
    """The quick notes begin after it, and end with the note where the last is quick too."""
    late = laid((72, 74, 72, 71, 72), (0.0, 0.5, 0.58, 0.66, 0.74), 0.82)
    assert 1 == late.first
    assert 0.32 == pytest.approx(late.length_s)
    on = laid((72, 74, 72, 71, 72), (0.0, 0.08, 0.16, 0.24, 0.32), 1.0)
    assert 0 == on.first
    assert 0.32 == pytest.approx(on.length_s)
