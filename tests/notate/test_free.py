"""The player's own notes written out: in time within their bar, over a fermata in their values, the others waiting."""

import pytest
from lxml import etree

from appui.demo import bare_andante
from appui.embellish.choose import propose
from appui.embellish.model import Wish
from appui.embellish.places import find_places
from appui.exact import Fraction
from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.write.build import needed
from appui.notate.output import notated
from appui.notate.tree import KEEPS
from appui.notate.wait import WORDS, let_wait
from appui.perform.play import play
from appui.score.repeats import once
from tests.notate.test_output import reread
from tests.there import there

FORD = bare_andante()


def embellished(tmp_path, number: int = 1) -> Interpretation:
    """The Andante with one proposal at each of its places, of those that do not meet."""
    from appui.embellish.keep import plan_with

    interpretation = interpret(FORD)
    places, _ = find_places(interpretation, Wish())
    found = [propose(interpretation, place, Wish()) for place in places]
    kept = {each.place.place: min(number, len(each.proposals)) for each in found}
    plan = tmp_path / "plan.toml"
    plan.write_text(plan_with(interpretation, found, kept), encoding="utf-8")
    return interpret(FORD, Wishes(plan=plan))


def sound(interpretation: Interpretation, part: int) -> list[tuple[int, int, int]]:
    """Onset and end in milliseconds, and key."""
    done = play(interpretation, once(interpretation.score.bars))
    return [(round(n.onset_s * 1000), round((n.onset_s + n.duration_s) * 1000), n.key) for n in done.parts[part].notes]


@pytest.mark.parametrize("number", [1, 2, 3])
def test_the_written_file_sounds_as_the_plan(tmp_path, number):
    """Every onset of every part to 2 ms, cadenza, lead-in, variations and all."""
    interpretation = embellished(tmp_path, number)
    again = reread(notated(FORD, interpretation, "replace")[0], solo="1")
    assert len(interpretation.embellishments) > 5
    for part in range(4):
        one, other = sound(interpretation, part), sound(again, part)
        assert [key for _, _, key in one] == [key for _, _, key in other]
        assert max(abs(a[0] - b[0]) for a, b in zip(one, other, strict=True)) <= 2


def test_over_a_fermata_the_values_are_the_plans(tmp_path):
    """Not squeezed into the bar: the first note of the cadenza has the value the plan gives it."""
    interpretation = embellished(tmp_path)
    first = interpretation.embellishments["flute.8.1"].free.written.notes[0]
    root = etree.fromstring(notated(FORD, interpretation, "replace")[0])
    part = needed(root, "part")
    measure = part.findall("measure")[7]
    divisions, length = needed(part, ".//divisions").text, needed(measure, "note/duration").text
    assert first.value_q == Fraction(int(there(length)), int(there(divisions)))
    assert measure.find("note/notations/fermata") is None


@pytest.mark.parametrize("keep", KEEPS)
def test_all_parts_have_the_same_length_in_every_bar(tmp_path, keep):
    """The others wait in a longer bar, under the words that tell them to."""
    root = etree.fromstring(notated(FORD, embellished(tmp_path), keep)[0])
    lengths = {tuple(bar_lengths(part)) for part in root.iterfind("part")}
    assert 1 == len(lengths)
    others = root.findall("part")[-3:]
    assert all([WORDS] * 2 == [node.text for node in part.iter("words") if node.text == WORDS] for part in others)


def bar_lengths(part) -> list[Fraction]:
    """How long each bar is, in quarters."""
    found, divisions = [], 1
    for measure in part.iterfind("measure"):
        now = longest = Fraction(0)
        for child in measure:
            if child.find("divisions") is not None:
                divisions = int(child.findtext("divisions"))
            if (
                child.tag in ("note", "forward", "backup")
                and child.find("chord") is None
                and child.find("grace") is None
            ):
                length = Fraction(int(child.findtext("duration")), divisions)
                now += -length if child.tag == "backup" else length
                longest = max(longest, now)
        found.append(longest)
    return found


def test_beside_the_line_the_solo_keeps_its_fermata(tmp_path):
    """It is the composer's text."""
    root = etree.fromstring(notated(FORD, embellished(tmp_path), "ossia")[0])
    printed = root.findall("part")[1].findall("measure")[7]
    assert printed.find("note/notations/fermata") is not None


def part_of(inner: str):
    """A part of one bar."""
    return etree.fromstring(
        f"<part><measure number='1'><attributes><divisions>1</divisions></attributes>{inner}</measure></part>"
    )


def timed(part) -> list[tuple[str, int]]:
    """Tags and durations."""
    return [(n.tag, int(n.findtext("duration"))) for n in part.find("measure") if n.find("duration") is not None]


NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration></note>"
CHORD = "<note><chord/><pitch><step>E</step><octave>4</octave></pitch><duration>{}</duration></note>"


def test_the_gap_comes_after_the_whole_chord():
    """Two notes struck together, then the time to wait."""
    part = part_of(NOTE.format(4) + CHORD.format(4))
    let_wait(part, 0, Fraction(4), Fraction(3), "x")
    assert [("note", 4), ("note", 4), ("forward", 3)] == timed(part)


def test_a_second_voice_goes_back_further():
    """The way back is longer by what was put in; a note across the moment lasts longer."""
    part = part_of(NOTE.format(2) + NOTE.format(2) + "<backup><duration>4</duration></backup>" + NOTE.format(4))
    let_wait(part, 0, Fraction(2), Fraction(3), "x")
    assert [("note", 2), ("forward", 3), ("note", 2), ("backup", 7), ("note", 7)] == timed(part)


def test_a_voice_that_begins_afterwards_moves_as_a_whole():
    """A way back to the moment itself stays as it was."""
    part = part_of(NOTE.format(2) + NOTE.format(2) + "<backup><duration>2</duration></backup>" + NOTE.format(2))
    let_wait(part, 0, Fraction(2), Fraction(3), "x")
    assert [("note", 2), ("forward", 3), ("note", 2), ("backup", 2), ("note", 2)] == timed(part)
