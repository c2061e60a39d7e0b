"""Sources as data: the digest, one place through all of them, and the file for other programs."""

import jsonschema
import pytest

from appui.compare.sources import digest, opinions, practice_at, published, schema
from appui.demo import demo_score
from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import read_score
from appui.perform.play import play
from appui.score.signs import SIGN_NAMES
from appui.style.choose import READINGS_FOR
from appui.style.measured import practice_of, practice_words, year_of
from appui.style.reading import FAMILIES, parse_reading
from appui.style.table import load_style, style_names
from tests.there import there


def demo():
    """The demo's score."""
    return read_score(demo_score())


@pytest.fixture(scope="module")
def rules():
    """The published rules."""
    return published()


def test_the_published_rules_keep_to_their_schema(rules) -> None:
    """JSON Schema 2020-12 (read): the file is what its schema says."""
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.Draft202012Validator(schema()).validate(rules)


def test_every_sign_reading_and_source_is_published(rules) -> None:
    """Nothing the tool itself uses is left out."""
    assert set(READINGS_FOR) == {sign["name"] for sign in rules["signs"]}
    assert set(FAMILIES) == {reading["name"] for reading in rules["readings"]}
    assert list(style_names()) == [source["name"] for source in rules["sources"]]
    printed = {element for sign in rules["signs"] for element in sign["musicxml"]}
    assert set(SIGN_NAMES) - printed == {"other-ornament"}


def test_published_readings_can_be_typed(rules) -> None:
    """Every reading of every rule is read back by the parser of plans, and has a pattern."""
    for source in rules["sources"]:
        for rule in source["rules"]:
            for words in (rule["reading"], *rule["also"]):
                filled = words.format(length="1/2", rule="1/2")
                assert filled == parse_reading(filled).text
    assert all(reading["pattern"] for reading in rules["readings"])


def test_every_rule_has_its_place_in_the_digest() -> None:
    """No rule of any source is left out of what is printed; rules name the signs they are for."""
    for name in style_names():
        style = load_style(name)
        shown = [rule for _, rules in digest(style) for rule in rules]
        assert {r.why for r in style.rules if "sign" in r.when} == {r.why for r in shown}, name


def test_one_place_through_all_sources() -> None:
    """The style stood on comes first, every style once, and at least one differs somewhere in the piece."""
    interpretation = interpret_analysis(Analysis(demo()), Wishes(year=1780))
    small = [sign for sign in interpretation.signs if sign.kind == "small notes"]
    found = [opinions(interpretation, sign) for sign in small]
    assert all([o.style for o in row] == ["harmony", *(n for n in style_names() if n != "harmony")] for row in found)
    assert any(not opinion.same for row in found for opinion in row)
    assert "21%" in practice_at(interpretation, small[0])


@pytest.mark.parametrize(
    ("creators", "year"),
    [
        ([("composer", "N. N. (1732-1809)")], 1780),
        ([("composer", "N. N. (1770\u20131827)")], 1808),
        ([("composer", "written in 1799")], 1799),
        ([("lyricist", "N. N. (1732-1809)")], 0),
        ([("composer", "BWV 1720a")], 0),
        ([], 0),
    ],
)
def test_the_year_is_read_from_the_composer_line(creators, year) -> None:
    """A life's working years from twenty on, or the one year given; nothing from other lines."""
    assert year == year_of(creators)


def test_practice_is_of_the_nearest_repertoire_and_never_far_off() -> None:
    """(n)ASAP (computed): the period decides; where none is near, nothing is said."""
    assert ["Haydn", "Beethoven", "Liszt"] == [there(practice_of(year)).repertoire for year in (1775, 1801, 1870)]
    assert practice_of(0) is None
    assert practice_of(1600) is None
    assert "" == practice_words("turn", None, 1780)


def test_the_measured_style_follows_the_period() -> None:
    """Uncrossed before 1793 on the beat, after 1820 before it; the quartiles are among the alternatives."""
    early, late = (interpret_analysis(Analysis(demo()), Wishes(style="measured", year=year)) for year in (1780, 1835))
    place = next(s.place for s in early.signs if s.kind == "small notes" and len(s.small) == 1)
    assert ("on", "before") == (early.choices[place].placement, late.choices[place].placement)
    assert {"short 57 ms", "short 127 ms"} <= set(early.choices[place].alternatives)


def test_swelling_is_played_and_struck_is_not() -> None:
    """Tartini c. 1750 (excerpt read): a leaning note starts softly; expression rises to its peak and falls again."""
    swelling = interpret_analysis(Analysis(demo()), Wishes(style="tartini-1750"))
    struck = interpret_analysis(Analysis(demo()), Wishes(style="bach-1753"))
    order = swelling.order(None, repeats=False)
    solo = swelling.solo.index
    controls = play(swelling, order).parts[solo].controls
    assert () == play(struck, order).parts[solo].controls
    first = [control.value for control in controls[:25]]
    peak = first.index(max(first[:-1]))
    assert first[: peak + 1] == sorted(first[: peak + 1])
    assert first[0] < 110 < 120 < max(first)
    assert 127 == first[-1]


def test_all_parts_wait_at_a_fermata() -> None:
    """The performance with holds is longer by what the fermatas ask, in every part at once."""
    plain, held = (interpret_analysis(Analysis(demo()), Wishes(hold=Fraction(times))) for times in (1, 3))
    order = plain.order(None, repeats=False)
    fermatas = [sign for sign in plain.signs if sign.kind == "fermata"]
    before, after = play(plain, order), play(held, order)
    if fermatas:
        assert after.length_s > before.length_s
    for one, other in zip(before.parts, after.parts, strict=True):
        assert [n.key for n in one.notes if n.role == "plain"] == [n.key for n in other.notes if n.role == "plain"]
