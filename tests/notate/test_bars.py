"""Some bars of a written-out score: what lasts is said again, nothing is left open."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from lxml import etree

from appui import demo
from appui.cli.main import cli
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.musicxml.write.cut import drop_open_ends, pairs
from appui.musicxml.write.time import scale
from appui.notate.output import notated
from appui.notate.tree import KEEPS

FERRY = Path(demo.__file__).with_name("ferry.musicxml")
LANTERN = Path(demo.__file__).with_name("lantern.musicxml")


def cut(path, bars, keep="replace"):
    """The interpretation, the cut score as our reader has it, and what was written."""
    interpretation = interpret(path, Wishes(pattern="none"))
    data, line = notated(path, interpretation, keep, bars=bars)
    return interpretation, score_of(parse_text(data, "cut.musicxml").root, "cut.musicxml"), line


def notes(score, part, first, last):
    """Onset from the first bar, length and pitch of a part's notes."""
    start_q = score.bars[first].onset_q
    return sorted(
        (event.onset_q - start_q, event.duration_q, note.sounding.midi)
        for voice in score.parts[part].voices
        for event in voice.events
        if first <= event.bar <= last
        for note in event.notes
    )


@pytest.mark.parametrize("path", [FERRY, LANTERN], ids=lambda path: path.stem)
def test_what_lasts_is_in_force_in_the_first_bar(path) -> None:
    """Meter, key, transposition and tempo."""
    interpretation, score, _ = cut(path, (9, 12))
    start_q = interpretation.score.bars[9].onset_q
    assert [bar.meter for bar in interpretation.score.bars[9:13]] == [bar.meter for bar in score.bars]
    before = [mark.qpm for mark in interpretation.score.tempos if mark.onset_q <= start_q][-1]
    assert abs(before - score.tempos[0].qpm) < Fraction(1, 100)
    for whole, part in zip(interpretation.score.parts, score.parts, strict=True):
        assert whole.transposition_at(start_q) == part.transposition_at(Fraction(0))
        assert [key.fifths for key in whole.keys if key.onset_q <= start_q][-1] == part.keys[0].fifths


@pytest.mark.parametrize("keep", KEEPS)
def test_the_other_parts_have_their_notes(keep) -> None:
    """The same as in these bars of the whole."""
    interpretation, score, _ = cut(FERRY, (9, 12), keep)
    more = 0 if keep == "replace" else 1
    assert 4 == len(score.bars)
    for part in range(1, len(interpretation.score.parts)):
        assert notes(interpretation.score, part, 9, 12) == notes(score, part + more, 0, 3)


def test_the_solo_is_written_out_as_in_the_whole() -> None:
    """The same notes as when nothing is cut away."""
    _, whole, _ = cut(FERRY, (0, 29))
    _, score, line = cut(FERRY, (9, 12))
    assert line.signs
    assert notes(whole, 0, 9, 12) == notes(score, 0, 0, 3)


def test_a_sign_that_reaches_beyond_is_left_and_told() -> None:
    """The small note of bar 5 takes its time from bar 4; what is before the beat out of its own note stays with it."""
    _, score, line = cut(FERRY, (4, 6))
    beyond = "reaches beyond these bars: left as printed"
    assert (("oboe.5.1", beyond), ("oboe.5.2", beyond)) == line.notices
    assert line.signs.isdisjoint({"oboe.5.1", "oboe.5.2"})
    assert not [notice for notice in score.notices if "slur" in notice.text]


def part_of(*notes_):
    """A part of one bar, each note given as its notations."""
    inside = "".join(
        f"<note><pitch><step>C</step><octave>5</octave></pitch><voice>{voice}</voice>"
        f"<notations>{marks}</notations></note>"
        for voice, marks in notes_
    )
    return etree.fromstring(f"<part><measure number='1'>{inside}</measure></part>")


def test_an_open_slur_or_tie_is_dropped() -> None:
    """One that ends here stays."""
    part = part_of(
        (1, "<slur type='stop'/><tied type='stop'/>"), (1, "<slur type='start'/>"), (1, "<slur type='stop'/>")
    )
    drop_open_ends(part, ("slur", "tied"))
    assert ["start", "stop"] == [slur.get("type") for slur in part.iter("slur")]
    assert [] == list(part.iter("tied"))


def test_a_slur_may_go_to_another_voice() -> None:
    """Its own voice comes first."""
    part = part_of(
        (1, "<slur type='start'/>"), (2, "<slur type='start'/>"), (2, "<slur type='stop'/>"), (3, "<slur type='stop'/>")
    )
    ends = list(part.iter("slur"))
    assert [(ends[1], ends[2]), (ends[0], ends[3])] == list(pairs(part, "slur"))


def test_the_command_takes_bars(tmp_path) -> None:
    """By printed numbers; an unknown one is refused."""
    out = tmp_path / "out.musicxml"
    done = CliRunner().invoke(cli, ["notate", str(FERRY), str(out), "--bars", "5-12"])
    assert 0 == done.exit_code
    numbers = [bar.get("number") for bar in etree.parse(out).iterfind("part[1]/measure")]
    assert ("5", "12") == (numbers[0], numbers[-1])
    assert 0 != CliRunner().invoke(cli, ["notate", str(FERRY), str(out), "--bars", "900"]).exit_code


def test_a_number_that_is_none_stays() -> None:
    """`attack` and `offset` are decoration: the reader has said what there is to say."""
    node = etree.fromstring("<note attack='1e9' release='2'><offset>odd</offset></note>")
    scale(node, Fraction(3))
    assert ("1e9", "6", "odd") == (node.get("attack"), node.get("release"), node.findtext("offset"))
