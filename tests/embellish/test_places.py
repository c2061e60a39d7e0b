"""Where something may be added and why; where not."""

import re
from itertools import pairwise

import pytest
from lxml import etree

from appui.embellish.model import AMOUNTS, LeftAlone, Place, Wish
from appui.embellish.places import find_places
from appui.errors import PlaceError, UsageError
from appui.exact import Fraction
from appui.harmony.ground import Footing, Ground
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from tests.embellish.pieces import interpretation, xml
from tests.there import there

CADENCE_BASS = "C3+E4+G4w | G2+B3+F4w | C3+E4+G4w"


def found(solo: str, bass: str, *kinds: str, **options) -> list[Place]:
    """The places of some kinds, all where none is named."""
    return find_places(interpretation(solo, bass, **options), Wish(kinds=kinds))[0]


def left(solo: str, bass: str, **options) -> list[LeftAlone]:
    """What is left alone."""
    return find_places(interpretation(solo, bass, **options), Wish())[1]


def test_a_fermata_over_a_rest_stays_plain():
    """C.P.E. Bach 1753, 2.9 §4, p. 107 (read)."""
    solo, bass = "G5w | Rw^ | C5w", "C3+E4+G4w | C3+E4+G4w^ | C3+E4+G4w"
    assert "a fermata over a rest stays plain" in left(solo, bass)[0].why
    assert [] == found(solo, bass, "fermata", "lead-in", "cadenza")


def test_a_fermata_with_a_trill_is_ornamented_already():
    """What the composer has ornamented is left to him (common practice, no source)."""
    solo, bass = "C5w | D5w^t | C5w", "C3+E4+G4w | G2+B3+D4w^ | C3+E4+G4w"
    assert "ornamented already" in [each.why for each in left(solo, bass)]


def test_a_last_note_rests():
    """A fermata on the last note only ends the piece (common practice, no source)."""
    solo, bass = "D5w | C5w^", "G2+B3+F4w | C3+E4+G4w^"
    assert [] == found(solo, bass, "fermata")
    assert any("the last note" in each.why for each in left(solo, bass))


def test_fermatas_at_the_ends_of_lines_are_no_invitation():
    """A chorale's fermatas mark its lines (common practice, no source)."""
    solo, bass = "C5w^ | D5w^ | E5w^ | C5w^", "C3+E4+G4w^ | G2+B3+D4w^ | C3+E4+G4w^ | C3+E4+G4w^"
    assert {True} == {"ends of lines" in each.why for each in left(solo, bass) if each.place.endswith(".1")}
    assert [] == found(solo, bass, "fermata", "lead-in")


def test_a_close_without_a_trill_is_a_place_and_one_with_a_trill_is_none():
    """Before a close a trill is due (C.P.E. Bach 1753, 2.3 §13, p. 73, read)."""
    assert ["oboe.2.1"] == [each.place for each in found("E5w | D5w | C5w", CADENCE_BASS, "cadence")]
    assert [] == found("E5w | D5wt | C5w", CADENCE_BASS, "cadence")


def test_a_repeated_bar_may_be_varied_the_second_time():
    """What is added is for the second time only."""
    places = found(":C5h E5h | D5w | C5w:", ":" + CADENCE_BASS + ":", "second-time")
    assert places
    assert all(each.repeated and "is repeated" in each.why for each in places)


def test_a_phrase_that_comes_again_may_be_varied():
    """Two bars alike or more; it is told which bar comes again."""
    phrase, bass = "C5h E5h | D5h G5h", "C3+E4+G4w | G2+B3+F4w"
    solo = f"{phrase} | C5w | {phrase} | C5w"
    places = found(solo, f"{bass} | C3+E4+G4w | {bass} | C3+E4+G4w", "second-time")
    assert "bar 4 is bar 1 again: the second time may be varied" == places[0].why
    assert not any(each.repeated for each in places)


def test_long_notes_are_places_where_it_is_slow_and_not_where_it_is_fast():
    """More in slow pieces than in fast ones (C.P.E. Bach 1753, 2.1 §19, p. 59, read)."""
    solo = "C5h E5h | D5w | C5w"
    assert found(solo, CADENCE_BASS, "long-notes", qpm=50, words="Adagio")
    assert [] == found(solo, CADENCE_BASS, "long-notes", qpm=160, words="Allegro")


def test_unison_with_another_part_is_left_alone():
    """What two play together one does not ornament (common practice, no source)."""
    told = left("C5h E5h | D5w | C5w", "C3+E4+C5h C3+G4+E5h | G2+B3+D5w | C3+E4+C5w", qpm=50)
    assert any("in unison" in each.why for each in told)


def test_what_comes_again_is_varied_against_those_who_double_it():
    """A doubling violin is no reason to leave a da capo alone (common practice, no source)."""
    bass = "C3+E4+C5h C3+G4+E5h | G2+B3+D5w | C3+E4+C5w"
    assert found(":C5h E5h | D5w | C5w:", ":" + bass + ":", "second-time", qpm=50)


def test_thirds_with_another_part_are_varied_by_both_or_by_neither():
    """Here by neither (common practice, no source)."""
    solo, second = "E5q F5q G5h | F5h E5h", "C5q D5q E5h | D5h C5h"
    one = xml(solo, second, qpm=50)
    lowest = there(re.search(r"<part id='P1'>(.*?)</part>", xml("", "C3w | G2w", qpm=50)))
    bass = f"<part id='P2'>{lowest[1]}</part>"
    one = one.replace("</part-list>", "<score-part id='P2'><part-name>Bass</part-name></score-part></part-list>")
    made = interpret_analysis(
        Analysis(
            score_of(etree.fromstring(one.replace("</score-partwise>", bass + "</score-partwise>")), "x", "0" * 64)
        ),
        Wishes(solo="1"),
    )
    places, plain = find_places(made, Wish(kinds=("long-notes",)))
    assert [] == places
    assert any("thirds or sixths" in each.why for each in plain)


@pytest.mark.parametrize(("less", "more"), [("sparse", "moderate"), ("moderate", "rich")])
def test_richer_is_more_places(less, more):
    """As many or more with each step; over ten bars more at last."""
    solo = " | ".join(["C5h E5h", "D5h F5h", "E5h G5h", "D5w", "C5w"] * 2)
    bass = " | ".join(["C3+E4+G4w", "G2+B3+F4w", "C3+E4+G4w", "G2+B3+F4w", "C3+E4+G4w"] * 2)
    made = interpretation(solo, bass, qpm=50, words="Adagio")
    count = {each: len(find_places(made, Wish(how_much=each))[0]) for each in (less, more, "sparse", "rich")}
    assert count[less] <= count[more]
    assert count["sparse"] < count["rich"]


def test_rich_takes_shorter_notes():
    """Eighth notes of 0.4 s in an Adagio, which moderate leaves as they are (the numbers are design values)."""
    solo, bass = "C5e D5e E5e F5e G5e F5e E5e D5e | D5w | C5w", "C3+E4+G4w | G2+B3+F4w | C3+E4+G4w"
    made = interpretation(solo, bass, qpm=72, words="Adagio")
    kinds = ("long-notes",)
    first = {
        each: min(p.span.first for p in find_places(made, Wish(how_much=each, kinds=kinds))[0]) for each in AMOUNTS
    }
    assert {"sparse": 8, "moderate": 8, "rich": 0} == first


@pytest.mark.parametrize(("shared", "open_to_it"), [(0.95, True), (0.5, False)])
def test_where_only_the_chords_seventh_is_in_doubt_there_is_a_place(monkeypatch, shared, open_to_it):
    """C or C7: its notes are chord notes in both; C or something else: left alone."""
    real = Ground.at

    def at(self: Ground, onset_q: Fraction) -> Footing | None:
        here = real(self, onset_q)
        return here and here._replace(chance=0.5, shared=shared)

    monkeypatch.setattr(Ground, "at", at)
    assert open_to_it == bool(found("C5h E5h | D5w | C5w", CADENCE_BASS, "long-notes", qpm=50, words="Adagio"))


def test_the_da_capo_manner_varies_only_what_comes_again():
    """The first time stays plain."""
    made = interpretation("C5h E5h | D5w | C5w", CADENCE_BASS, qpm=50)
    assert "long-notes" not in {each.kind for each in find_places(made, Wish(manner="da-capo"))[0]}


def test_without_other_parts_there_is_nothing_to_build_upon():
    """No harmony, no proposal, and it is said."""
    assert [] == found("C5h E5h | D5w | C5w", "", "long-notes", qpm=50)
    assert any("no harmony to build upon" in each.why for each in left("C5h E5h | D5w | C5w", "", qpm=50))


def test_a_place_asked_for_is_taken_though_it_was_left_alone():
    """The player decides; the reason is told."""
    made = interpretation("C5w | D5w^t | C5w", "C3+E4+G4w | G2+B3+D4w^ | C3+E4+G4w")
    places, _ = find_places(made, Wish(places=("oboe.2.1",), kinds=("lead-in",)))
    assert ["lead-in"] == [each.kind for each in places]
    assert "it was left alone: ornamented already" in places[0].why


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("oboe.9.1", "there is no note at 'oboe.9.1'; the nearest is"),
        ("violoncello.1.1", "violoncello.1.1 is not in the solo"),
        ("nonsense", "there is no note at 'nonsense'"),
    ],
)
def test_a_place_that_is_none_is_refused(place, words):
    """The nearest is named."""
    with pytest.raises(PlaceError, match=words):
        find_places(interpretation("C5w | D5w | C5w", CADENCE_BASS), Wish(places=(place,)))


def test_a_kind_that_is_none_is_refused():
    """The kinds are listed."""
    with pytest.raises(UsageError, match="kind 'waltz' is not one of cadenza, lead-in"):
        find_places(interpretation("C5w | D5w | C5w", CADENCE_BASS), Wish(kinds=("waltz",)))


def test_no_two_places_meet():
    """A note is embellished once."""
    made = interpret_analysis(
        Analysis(score_of(etree.fromstring(xml(":C5h E5h | D5w | C5w:", ":" + CADENCE_BASS + ":")), "x", "0" * 64)),
        Wishes(solo="1"),
    )
    spans = [(each.span.first, each.span.last) for each in find_places(made, Wish())[0]]
    assert spans == sorted(spans)
    assert all(one[1] < other[0] for one, other in pairwise(spans))
