"""Some bars of a score written out: what is in force at the first of them, and nothing left open."""

import pytest
from click.testing import CliRunner
from lxml import etree

from appui.cli.main import cli
from appui.musicxml.write.cut import drop_open_ends, pairs, unslur
from appui.notate.output import notated
from appui.notate.tree import KEEPS
from appui.perform.play import play
from appui.score.repeats import once
from tests.notate.test_output import FERRY, heard, opened, reread


def cut(keep: str, first: int, last: int):
    """The demo's bars, by index, written out."""
    return notated(FERRY, opened(FERRY), keep, bars=(first, last))


def tree(text: str):
    """A part, its bars divided by a stroke; ``s1C`` a note on which slur 1 starts, ``e1D`` one on which it ends."""
    part = etree.Element("part")
    for bar in text.split("|"):
        measure = etree.SubElement(part, "measure")
        for word in bar.split():
            note = etree.SubElement(measure, "note")
            notations = etree.SubElement(note, "notations")
            if word[0] in "se":
                kind = "start" if word[0] == "s" else "stop"
                etree.SubElement(notations, "slur", type=kind, number=word[1])
    return part


@pytest.mark.parametrize("keep", KEEPS)
def test_the_bars_sound_as_they_do_in_the_whole(keep):
    """Bars 17 to 22 of the demo: the written solo has the realization's notes, from the first bar on."""
    data, _ = cut(keep, 16, 21)
    interpretation = opened(FERRY)
    if keep != "replace":
        assert 6 == len(reread(data, solo="Oboe").score.bars)
        return
    order = once(interpretation.score.bars, 16, 21)
    done = play(interpretation, order, parts=[interpretation.solo.index])
    wanted = [(round(float(n.onset_q - done.lead_q) * 1000), n.key) for n in done.parts[0].notes]
    assert wanted == heard(reread(data, solo="Oboe"))


def test_key_meter_and_clef_are_said_at_the_first_bar():
    """They come from bar 1."""
    data, _ = cut("replace", 8, 10)
    score = reread(data).score
    assert (6, 8) == (score.bars[0].meter.beats, score.bars[0].meter.beat_type)
    root = etree.fromstring(data)
    assert {"-2"} == {node.text for node in root.iter("fifths")}
    assert 4 <= len(root.findall("part/measure/attributes/clef"))


def test_the_tempo_lasts():
    """72 quarter notes a minute, as at the beginning."""
    data, _ = cut("replace", 8, 10)
    assert 72 == reread(data).score.tempos[0].qpm


@pytest.mark.parametrize("bars", [(0, 3), (1, 1), (7, 8), (20, 29)])
def test_nothing_is_left_open(bars):
    """Every slur and tie has both its ends, in every part."""
    root = etree.fromstring(cut("replace", *bars)[0])
    for part in root.iterfind("part"):
        for tag in ("slur", "tied", "tie"):
            ends = len(list(part.iter(tag)))
            assert 2 * len(list(pairs(part, tag))) == ends


def test_a_half_slur_is_taken_away_and_a_whole_one_stays():
    """A start without a stop, a stop without a start."""
    part = tree("e1C s1D | e1E s2F")
    drop_open_ends(part, ["slur"])
    assert ["start", "stop"] == [node.get("type") for node in part.iter("slur")]


def test_a_slur_to_a_note_that_goes_loses_both_ends():
    """Its other end would hang."""
    part = tree("s1C e1D s2E | e2F")
    unslur(part, [next(part.iter("note"))])
    assert ["2", "2"] == [node.get("number") for node in part.iter("slur")]


def test_the_command_takes_bars_by_their_printed_numbers(tmp_path):
    """Bars 2 to 4 are three; outside the piece it says which there are."""
    out = tmp_path / "out.musicxml"
    done = CliRunner().invoke(cli, ["notate", str(FERRY), str(out), "--bars", "2-4"], catch_exceptions=False)
    assert 0 == done.exit_code
    assert ["2", "3", "4"] == [m.get("number") for m in etree.parse(out).iterfind("part[1]/measure")]
