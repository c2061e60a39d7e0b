"""Written-out leaning notes. Expected values: common practice, no source; corpus places: one musician's judgement."""

from dataclasses import replace
from pathlib import Path

import music21
import pytest

from appui.exact import Fraction, fraction_of
from appui.harmony.analyse import analyse
from appui.harmony.verdicts import verdict_of
from appui.harmony.written_out import metrical_weight, written_out, written_out_at
from appui.musicxml.read.score import read_score
from appui.score.model import Bar, Meter
from appui.score.signs import find_signs
from tests.there import there

CORPUS = Path(music21.__file__).parent / "corpus"
CHORDS = "C3+E4+G4:2 G2+F4+B4:2 | C3+E4+G4:4 | C3+E4+G4:4"


def found(written, solo, chords=CHORDS, **more):
    """What is listed of the solo."""
    score = written({"Oboe": solo, "Piano": chords}, **more)
    return [one for one in written_out(score, analyse(score)) if one.part == 0]


@pytest.mark.parametrize("up", [(0, 0), (2, 3), (5, 8)])
def test_a_fourth_that_steps_down_is_listed(written, major_up, up) -> None:
    """F before E over C E G, on the first beat: place, interval, resolution and words."""
    (one,) = found(written, "G5:2 D5:2 | F5:2 E5:2 | C5:4", up=up)
    assert ("oboe.2.1", 2, 3, 0, "a fourth") == (one.place, one.event, one.resolution, one.note, one.interval)
    assert one.confidence > 0.8
    assert "steps down to" in one.words


def test_the_words_name_the_chord_and_the_interval(written) -> None:
    """As a player would say it."""
    (one,) = found(written, "G5:2 D5:2 | F5:2 E5:2 | C5:4")
    assert "F5 against C E G: a fourth above the bass, steps down to E5" == one.words


def test_one_that_resolves_up(written) -> None:
    """B before C over C: the leading note, held back."""
    (one,) = found(written, "G5:2 D5:2 | B4:2 C5:2 | C5:4")
    assert ("a seventh", "C5") == (one.interval, one.target.name)


@pytest.mark.parametrize(
    ("bar", "why"),
    [
        ("G5:2 E5:2", "a chord note"),
        ("F5:2 C5:2", "it leaps away"),
        ("E5:1 F5:1 E5:2", "a weak beat before a stronger one"),
        ("G5:1 G5:1/2 F5:1/2 E5:2", "off the beat"),
        ("G5:1/2 F5:1/2 E5:1/2 D5:1/2 C5:2", "a run whose dissonances fall off the beat"),
        ("A5:1/2 G5:1/2 F5:1/2 E5:1/2 C5:2", "a run through the beat"),
        ("F5:2 r:1 E5:1", "a rest between"),
    ],
)
def test_what_is_not_listed(written, bar, why) -> None:
    """Chord notes, leaps, weak places, runs and interrupted steps are no written-out leaning notes."""
    listed = found(written, f"G5:2 D5:2 | {bar} | C5:4")
    assert [] == [one for one in listed if one.place.startswith("oboe.2.")], why


def test_a_run_slurred_in_twos_is_listed(written) -> None:
    """F E D C in eighths over C: slurred in twos, F leans and D leans; in one sweep neither."""
    score = written({"Oboe": "G5:2 D5:2 | F5:1 E5:1 D5:1 C5:1 | C5:4", "Piano": CHORDS})
    part = score.parts[0]
    events = list(part.voices[0].events)
    for first in (2, 4):
        events[first] = events[first]._replace(slur_on=True)
        events[first + 1] = events[first + 1]._replace(slur_back=True)
    twos = replace(
        score, parts=(replace(part, voices=(part.voices[0]._replace(events=tuple(events)),)), score.parts[1])
    )
    assert [] == [one for one in written_out(score, analyse(score)) if one.part == 0]
    assert ["F5"] == [one.pitch.name for one in written_out(twos, analyse(twos)) if one.part == 0]


def test_a_suspension_counts_when_it_is_struck_again(written) -> None:
    """F held over by a tie is not struck on the beat and has no weight of its own; struck again it leans, prepared."""
    struck = found(written, "G5:2 F5:2 | F5:2 E5:2 | C5:4")
    tied = found(written, "G5:2 F5~:2 | ^F5:2 E5:2 | C5:4")
    assert ([True], []) == ([one.prepared for one in struck], tied)


def test_where_the_chord_changes_with_the_step_nothing_is_listed(written) -> None:
    """A over F A C steps to G over C E G: each is a chord note."""
    assert [] == found(written, "E5:2 D5:2 | A5:2 G5:2 | C5:4", "C3+E4+G4:2 G2+F4+B4:2 | F3+A4+C5:2 C3+E4+G4:2 | C3:4")


def test_alone_nothing_is_listed(written) -> None:
    """With no other voice there is no harmony to be foreign to."""
    score = written({"Oboe": "G5:2 D5:2 | F5:2 E5:2 | C5:4"})
    assert () == written_out(score, analyse(score))


def test_in_the_bass_there_is_no_interval(written) -> None:
    """A bassoon below the chords: D before C leans with no bass under it."""
    (one,) = found(written, "G2:2 G2:2 | D3:2 C3:2 | C3:4", "E4+G4+C5:2 F4+B4+D5:2 | E4+G4+C5:4 | E4+G4+C5:4")
    assert ("D3", "") == (one.pitch.name, one.interval)


def test_a_chord_holds_more_than_one(written) -> None:
    """F and D before E and C over C, in thirds: both lean."""
    assert ["F5", "D5"] == [one.pitch.name for one in found(written, "G5:2 D5:2 | F5+D5:2 E5+C5:2 | C5:4")]


def test_least_is_what_is_asked_of_the_confidence(written) -> None:
    """Nothing below it is listed."""
    score = written({"Oboe": "G5:2 D5:2 | F5:2 E5:2 | C5:4", "Piano": CHORDS})
    harmony = analyse(score)
    (one,) = written_out(score, harmony)
    assert () == written_out(score, harmony, least=one.confidence + 0.001)


def test_the_main_note_of_a_sign_may_be_one(written) -> None:
    """G before a written-out F is before a leaning note, G before E is not."""
    score = written({"Oboe": "G5:2 D5:2 | G5>F5:2 E5:2 | G5>E5:4", "Piano": CHORDS})
    harmony = analyse(score)
    first, second = (written_out_at(score, harmony, sign) for sign in find_signs(score))
    assert "oboe.2.1" == there(first).place
    assert second is None


def test_a_small_note_before_one_does_not_lean(written) -> None:
    """A steps into B over C E G, but B itself leans into C: the stress is there."""
    score = written({"Oboe": "G5:2 D5:2 | A4>B4:2 C5:2 | A4>B4:2 G4:2", "Piano": CHORDS})
    harmony = analyse(score)
    before, _ = (verdict_of(harmony, sign) for sign in find_signs(score))
    assert (("dissonance",), (False,), True) == (before.members, before.leans, before.before_written_out)
    assert before.words.endswith("before a note that leans itself")


@pytest.mark.parametrize(
    ("beats", "unit", "places", "weights"),
    [
        (4, 4, "0 1 2 3 1/2 1/4", "4 1 2 1 1/2 1/4"),
        (3, 4, "0 1 2 1/2", "3 1 1 1/2"),
        (6, 8, "0 3/2 1/2 1 1/4", "3 3/2 1/2 1/2 1/4"),
        (2, 2, "0 2 1 1/2", "4 2 1 1/2"),
    ],
)
def test_how_strong_the_places_of_a_bar_are(beats, unit, places, weights) -> None:
    """The length of the longest regular span that starts there."""
    bar = Bar(0, "1", Fraction(0), Fraction(4 * beats, unit), Meter(beats, unit))
    assert [fraction_of(w) for w in weights.split()] == [metrical_weight(bar, fraction_of(p)) for p in places.split()]


#  places looked up in the score and judged; `False`: on the beat and short of leaning, for the reason given
PLACES = {
    "haydn/opus1no1/movement3.mxl": {
        "violin-i.14.1": True,  # B flat held back over F A C, down to A: 4-3
        "violin-i.33.1": True,  # E flat over B flat D F, down to D: 4-3
        "violin-ii.3.1": True,  # A flat over E flat, down to G
        "violin-i.6.1": False,  # C over A flat C E flat is a chord note
        "violin-i.6.3": False,  # B flat over G B flat E flat is a chord note
    },
    "haydn/opus74no1/movement2.mxl": {
        "violin-1.15.1": True,  # A sharp against the B of the viola, up to B over G
        "violin-2.15.1": True,  # the same an octave below
        "violin-1.21.1": True,  # C over G B D, down to B
        "violin-1.91.1": True,  # E over D F sharp A C, down to D
        "violin-1.24.3": False,  # in a run of thirty-seconds under one slur
        "violin-2.106.2": False,  # in a scale of triplets
    },
    "weber/concertino_clarinet.mxl": {
        "bb-clarinet.12.3": True,  # B over C E flat G, up to C
        "bb-clarinet.13.1": True,  # E flat over G B D, down to D: 6-5
        "bb-clarinet.21.2": True,  # D over C E flat G, down to C: 9-8
        "bb-clarinet.61.1": True,  # G over F A C E flat, down to F: 9-8
        "bb-clarinet.134.1": True,  # B flat held back over F, down to A
        "bb-clarinet.214.1": True,  # C over D F A flat B flat, down to B flat
        "bb-clarinet.213.2": True,  # C flat over B flat D F A flat, down to B flat
        "piano.4.1": True,  # C held back over G D F, down to B
        "bb-clarinet.104.3": False,  # the first note of a scale in sixteenths
        "bb-clarinet.12.1": False,  # C over C E flat G is a chord note
    },
}


@pytest.mark.parametrize("file", PLACES)
def test_places_in_the_corpus(file) -> None:
    """What is listed agrees with the judgement on every place judged."""
    score = read_score(CORPUS / file)
    listed = {one.place for one in written_out(score, analyse(score))}
    assert PLACES[file] == {place: place in listed for place in PLACES[file]}


def test_a_suspension_is_found_though_its_own_note_spells_a_chord(written) -> None:
    """F over C C, held from before, steps down to E: F and C sound like F major, and yet it leans (common practice)."""
    music = {
        "Oboe": "C5:2 F5:2 | F5:1 E5:1 C5:2 | C5:4",
        "Viola": "F4:2 A4:2 | C4:2 G4:2 | G4:4",
        "Cello": "F3:2 A3:2 | C3:2 C3:2 | C3:4",
    }
    score = written(music)
    assert ["oboe.2.1"] == [one.place for one in written_out(score, analyse(score))]


def test_a_chord_note_that_steps_down_as_the_bass_moves_on_is_none(written) -> None:
    """A over B sharp, then G sharp over C sharp: the chord changes, nothing leans."""
    music = {
        "Oboe": "E5:2 A4:2 | A4:2 G#4:2 | C#5:4",
        "Viola": "E3:2 A3:2 | A3:2 G#3:2 | E4:4",
        "Cello": "G#2:2 B#2:2 | B#2:2 C#3:2 | C#3:4",
    }
    score = written(music)
    assert () == written_out(score, analyse(score))
