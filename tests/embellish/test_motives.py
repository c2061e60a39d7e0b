"""The piece's own figures: which are found, and that what is told of them in a cadenza is so."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from appui.demo import bare_andante
from appui.embellish.choose import propose
from appui.embellish.model import Wish
from appui.embellish.motives import Tone, motives, tones
from appui.embellish.places import find_places
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.musicxml.read.score import score_of
from appui.plan.free_notes import notes_text
from tests.embellish.pieces import interpretation, score, xml

Q = Fraction
VALUES = st.sampled_from([Q(1, 4), Q(1, 2), Q(3, 4), Q(1), Q(3, 2)])
#  letter steps and values of one phrase
Phrase = tuple[list[int], list[Fraction]]


@st.composite
def phrases(draw) -> Phrase:
    """Any line without a rest."""
    steps = draw(st.lists(st.integers(-5, 5), min_size=2, max_size=9))
    return steps, draw(st.lists(VALUES, min_size=len(steps) + 1, max_size=len(steps) + 1))


@st.composite
def planted(draw) -> Phrase:
    """A figure with a leap and a dotted rhythm."""
    more = draw(st.lists(st.integers(-3, 3), min_size=1, max_size=4))
    leap = draw(st.sampled_from([-4, -3, -2, 2, 3, 4]))
    return [leap, *more], [Q(3, 4), Q(1, 4), *(Q(1, 2) for _ in more)]


def line(*spoken: Phrase, start: int = 35) -> list[Tone]:
    """Phrases one after another, each in a bar of its own, from a letter position on."""
    found = []
    for number, (steps, values) in enumerate(spoken):
        letters = [start + sum(steps[:count]) for count in range(len(steps) + 1)]
        found += [Tone(a, value, number, number, Q(4)) for a, value in zip(letters, values, strict=True)]
    return found


@given(st.lists(phrases(), min_size=1, max_size=6), st.integers(-9, 9))
def test_a_piece_on_another_degree_has_the_same_figures(spoken, shift):
    """Contours are letter steps: moved by any number of them the piece keeps its motives."""
    here = line(*spoken)
    assert motives(here) == motives([tone._replace(letter=tone.letter + shift) for tone in here])


@given(st.lists(phrases(), min_size=1, max_size=6))
def test_in_double_values_the_figures_are_the_same(spoken):
    """Values in double values, bars twice as long; nothing else changes."""
    here = line(*spoken)
    slow = [tone._replace(value_q=2 * tone.value_q, bar_q=2 * tone.bar_q) for tone in here]
    assert [m._replace(values_q=tuple(2 * v for v in m.values_q)) for m in motives(here)] == motives(slow)


@given(planted(), st.lists(st.integers(-6, 6), min_size=2, max_size=4), st.lists(phrases(), max_size=3))
def test_a_planted_figure_is_found_first(figure, places, others):
    """Said three to five times among bare scales and lines that come once, it or a part of it is the chief motive."""
    steps, values = figure
    theme = [*steps, 1, 1, 1], [*values, *(Q(1, 2) for _ in range(3))]
    again = [tone._replace(letter=tone.letter + place) for place in places for tone in line(figure)]
    count, here = len(steps) + 1, line(theme, ([1] * 6, [Q(1, 2)] * 7))
    later = [tone._replace(phrase=9 + i // count, bar=9 + i // count) for i, tone in enumerate(again)]
    rest = [tone._replace(phrase=tone.phrase + 20, bar=tone.bar + 20) for tone in line(*others)]
    found = motives([*here, *later, *rest])[0]
    parts = [tuple(steps[a:b]) for a in range(len(steps)) for b in range(a + 2, len(steps) + 1)]
    assert found.steps in parts
    assert found.times >= len(places) + 1
    assert found.bar == 0


@given(st.integers(-1, 1), st.integers(3, 12), VALUES)
def test_a_bare_scale_or_a_repeated_note_is_none(step, count, value):
    """However often."""
    assert [] == motives(line(*[([step] * (count - 1), [value] * count)] * 4))


@given(st.lists(phrases(), min_size=1, max_size=5))
def test_a_figure_stands_where_it_is_said_to(spoken):
    """In its bar, with its steps and all its values but the last, which is no longer than printed."""
    here = line(*spoken)
    for motive in motives(here):
        steps, values = spoken[motive.bar]
        size = len(motive.steps)
        assert any(
            tuple(steps[at : at + size]) == motive.steps
            and tuple(values[at : at + size]) == motive.values_q[:-1]
            and values[at + size] >= motive.values_q[-1]
            for at in range(len(steps) - size + 1)
        )


SOLO = "C5e. E5s D5h. | D5e. F5s E5h. | E5e. G5s F5h."
BASS = "C3+E4+G4w | G2+B3+D4w | C3+E4+G4w"


def chief(made):
    """The chief motive of a score's first part."""
    return motives(tones(made, made.parts[0].voices[0].events))[0]


def test_small_notes_are_left_out():
    """They are ornaments of the figure, not the figure."""
    grace = "<note><grace/><pitch><step>A</step><octave>5</octave></pitch><voice>1</voice><type>eighth</type></note>"
    plain = xml(SOLO, BASS)
    first = "<note><pitch><step>E</step><octave>5</octave></pitch>"
    graced = plain.replace(first, grace + first, 1)
    assert graced != plain
    assert chief(score(SOLO, BASS)) == chief(score_of(etree.fromstring(graced), "x", "0" * 64))


def test_the_bar_before_the_fermata_counts():
    """Where the theme is bare, its figure is the chief one."""
    solo = "C5w | D5w | C5w | E5w | Rw | C5e. E5s D5h. | G5w^ | D5w | C5w"
    bare = score(solo, "")
    line_ = tones(bare, bare.parts[0].voices[0].events)
    assert [] == motives(line_)
    assert (2, -1) == motives(line_, before=6)[0].steps


def test_the_cadenza_of_the_andante_says_its_dotted_figure_twice():
    """A dotted quarter, an eighth and a quarter by step upwards, bars 1, 5 and 7 (read from the page)."""
    made = interpret(bare_andante())
    assert ((1, 1), (Q(3, 2), Q(1, 2), Q(1)), 0, 3) == motives(tones(made.score, made.solo.voices[0].events))[0][:4]
    wish = Wish(kinds=("cadenza",), count=1)
    first = propose(made, find_places(made, wish)[0][0], wish).proposals[0]
    assert "the figure of bar 1" in first.words
    assert 2 == dotted_ascents(first.line.notes), notes_text(first.line)


def dotted_ascents(notes) -> int:
    """How often three notes rise by step, the first at least three times as long as the second, the third longer."""
    threes = zip(notes, notes[1:], notes[2:], strict=False)
    return sum(
        a.value_q >= 3 * b.value_q
        and c.value_q > b.value_q
        and all(y.pitch.diatonic - x.pitch.diatonic == 1 for x, y in pairwise((a, b, c)))
        for a, b, c in threes
    )


def test_a_piece_without_figures_has_cadenzas_all_the_same():
    """Then they are scales and broken chords."""
    made = interpretation("C5w | D5w | G5w^ | D5w | C5w", "C3+E4+G4w | F3+A3+D4w | G2+C4+E4w | G2+B3+F4w | C3+E4+G4w")
    wish = Wish(kinds=("cadenza",))
    found = propose(made, find_places(made, wish)[0][0], wish).proposals
    assert found
    assert not any("figure" in proposal.words for proposal in found)
