"""The written-out part: the same notes as the realization, in a tree that is otherwise the file's own."""

from io import BytesIO
from pathlib import Path

import music21
import pytest
from click.testing import CliRunner
from lxml import etree
from pypdf import PdfReader

from appui import demo
from appui.cli.main import cli
from appui.exact import Fraction
from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import Interpretation, interpret, interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import load, parse_text
from appui.musicxml.write.build import needed
from appui.musicxml.write.cut import alone
from appui.musicxml.write.head import file_bytes
from appui.musicxml.write.partwise import part_element, partwise
from appui.notate.line import written_line
from appui.notate.output import engraved, notated, pages_of, pdf_of
from appui.notate.tree import KEEPS, PART_ID, rewrite
from appui.perform.play import play
from appui.score.repeats import once
from tests.there import there

CORPUS = Path(music21.__file__).parent / "corpus"
FERRY = Path(demo.__file__).with_name("ferry.musicxml")
LANTERN = Path(demo.__file__).with_name("lantern.musicxml")
MOVEMENTS = (
    CORPUS / "haydn/opus74no1/movement1.mxl",
    CORPUS / "beethoven/opus18no1/movement1.mxl",
    CORPUS / "weber/concertino_clarinet.mxl",
)


def opened(path, **wishes) -> Interpretation:
    """A interpretation without an accompaniment of our making."""
    return interpret(path, Wishes(pattern="none", **wishes))


def heard(interpretation, part=None):
    """Onset, key and MIDI velocity of each note of the solo, every bar once; the exact onset in ten thousandths."""
    index = interpretation.solo.index if part is None else part
    done = play(interpretation, once(interpretation.score.bars), parts=[index])
    return [(round(float(n.onset_q - done.lead_q) * 1000), n.key) for n in done.parts[0].notes]


def reread(data: bytes, **wishes) -> Interpretation:
    """The written file as our reader has it."""
    score = score_of(parse_text(data, "written.musicxml").root, "written.musicxml")
    return interpret_analysis(Analysis(score), Wishes(**wishes))


def excerpt(path, interpretation, bars: tuple[int, int], changed=None) -> bytes:
    """Bars (first and last index) of the solo as it is played, as a score of their own."""
    part = part_element(partwise(load(path).root), interpretation.solo)
    rewrite(part, interpretation.score, written_line(interpretation, interpretation.solo.index, changed))
    first, last = bars
    return file_bytes(alone(part.findall("measure"), first, last, "Solo", ("print", "sound", "harmony")))


@pytest.mark.parametrize("path", MOVEMENTS, ids=lambda path: path.parent.name + "-" + path.stem)
def test_the_written_solo_sounds_as_the_realization(path) -> None:
    """Every note of a movement at its exact time: note values and what `attack` and `release` add."""
    interpretation = opened(path)
    data, line = notated(path, interpretation, "replace")
    assert len(line.slots) > 10
    assert heard(interpretation) == heard(reread(data, solo=str(interpretation.solo.index + 1)))


@pytest.mark.parametrize("style", ["bach-1753", "tuerk-1789", "clementi-1801", "measured"])
def test_every_style_can_be_written(style) -> None:
    """The demo's signs under other manuals."""
    interpretation = opened(FERRY, style=style)
    data, _ = notated(FERRY, interpretation, "replace")
    assert heard(interpretation) == heard(reread(data, solo="oboe"))


def test_a_line_above_sounds_as_the_realization() -> None:
    """It is the first part, above the solo."""
    interpretation = opened(FERRY)
    back = reread(notated(FERRY, interpretation, "above")[0])
    assert PART_ID == back.score.parts[0].id
    assert heard(interpretation) == heard(back, 0)


def test_a_line_beside_the_solo_is_silent_in_players_of_the_file() -> None:
    """Volume 0: a player must not sound both."""
    for keep in ("ossia", "above"):
        root = etree.fromstring(notated(FERRY, opened(FERRY), keep)[0])
        assert ["0"] == root.xpath(f"//score-part[@id='{PART_ID}']/midi-instrument/volume/text()")


@pytest.mark.parametrize("keep", KEEPS)
@pytest.mark.parametrize("bars", [None, (4, 11)], ids=["whole", "some bars"])
def test_it_is_valid_musicxml(schema, schema_4, keep, bars) -> None:
    """MusicXML 3.1 and 4.0, the schemas as shipped in partitura and musicxml."""
    data, _ = notated(FERRY, opened(FERRY), keep, labels=True, bars=bars)
    for one in (schema, schema_4):
        one.assertValid(etree.parse(BytesIO(data)))


@pytest.mark.parametrize("keep", KEEPS)
def test_music21_reads_the_same_notes(keep) -> None:
    """Pitches, onsets and lengths of the written-out part, as another reader has them."""
    data, _ = notated(FERRY, opened(FERRY), keep)
    ours = reread(data).score.parts[0]
    again = music21.converter.parseData(data.decode(), format="musicxml")
    assert isinstance(again, music21.stream.Score)
    theirs = again.parts[0].flatten().notes
    expected = [
        (event.onset_q, event.duration_q, note.sounding.name) for event in ours.voices[0].events for note in event.notes
    ]
    found = [(n.offset, n.quarterLength, p.nameWithOctave.replace("-", "b")) for n in theirs for p in n.pitches]
    assert expected == found


def test_the_rest_of_the_tree_is_the_files_own(tmp_path) -> None:
    """Comments, processing instructions, unknown elements and layout come back as they were."""
    text = FERRY.read_text(encoding="utf-8")
    odd = text.replace("<part-list>", "<!-- kept --><?kept too?><part-list>", 1)
    odd = odd.replace("</measure>", "<x-unknown y='1'>z</x-unknown></measure>", 1)
    path = tmp_path / "odd.musicxml"
    path.write_text(odd, encoding="utf-8")
    before = load(path, keep=True).root
    after = etree.fromstring(notated(path, opened(path), "above")[0])
    for node in (*after.findall(f".//part[@id='{PART_ID}']"), *after.findall(f".//score-part[@id='{PART_ID}']")):
        there(node.getparent()).remove(node)
    assert etree.tostring(before, method="c14n", with_comments=True) == etree.tostring(
        after, method="c14n", with_comments=True
    )


def test_timewise_scores_are_turned_round(tmp_path) -> None:
    """The same music in the other order of parts and bars gives the same written part."""
    root = load(FERRY, keep=True).root
    timewise = etree.Element("score-timewise", version="4.0")
    timewise.extend([child for child in root if child.tag != "part"])
    parts = root.findall("part")
    for index, measure in enumerate(parts[0].findall("measure")):
        new = etree.SubElement(timewise, "measure", dict(measure.attrib))
        for part in parts:
            etree.SubElement(new, "part", id=part.get("id")).extend(list(part.findall("measure")[index]))
    path = tmp_path / "timewise.musicxml"
    path.write_bytes(etree.tostring(timewise))
    assert "score-partwise" == partwise(load(path).root).tag
    assert heard(opened(FERRY)) == heard(reread(notated(path, opened(path), "replace")[0], solo="oboe"))


def test_a_transposing_solo_is_written_for_its_player() -> None:
    """The clarinet's part stays in its written key, and sounds as the realization."""
    interpretation = opened(LANTERN)
    back = reread(notated(LANTERN, interpretation, "replace")[0], solo=interpretation.solo.name)
    assert heard(interpretation) == heard(back)
    assert interpretation.solo.transpositions == back.solo.transpositions


def test_a_leaning_note_is_marked_and_slurred_to_its_release() -> None:
    """A tenuto stroke, a slur unless one is printed, and the weight as levels."""
    root = etree.fromstring(notated(FERRY, opened(FERRY), "replace")[0])
    bar = needed(root, "part[1]/measure[@number='4']")
    lean, release = bar.findall("note")[:2]
    assert lean.find("notations/articulations/tenuto") is not None
    assert ["start"] == [slur.get("type") for slur in lean.iterfind("notations/slur")]
    assert ["stop"] == [slur.get("type") for slur in release.iterfind("notations/slur")]
    assert float(there(lean.get("dynamics"))) > float(there(release.get("dynamics")))


def test_no_slur_is_left_with_one_end() -> None:
    """Slurs of small notes go with them."""
    for keep in KEEPS:
        interpretation = reread(notated(FERRY, opened(FERRY), keep)[0])
        assert [] == [notice for notice in interpretation.score.notices if "slur" in notice.text]


def test_labels_say_the_chord_once() -> None:
    """Under the solo, not again while it stays."""
    root = etree.fromstring(notated(FERRY, opened(FERRY), "replace", labels=True)[0])
    said = root.xpath("//part[1]/measure[@number='7']/direction/direction-type/words/text()")
    assert ["F7 (7) V7"] == said


@pytest.mark.parametrize("path", [FERRY, *MOVEMENTS], ids=lambda path: path.parent.name + "-" + path.stem)
def test_verovio_engraves_every_note(path) -> None:
    """The written-out solo in the engraving: as many notes, of the same pitches, in the same order as in the file."""
    interpretation = opened(path)
    data = excerpt(path, interpretation, (0, len(interpretation.score.bars) - 1))
    toolkit = engraved(data, path.name)
    drawn = etree.fromstring(toolkit.getMEI().encode())
    notes = [note for note in drawn.iter("{*}note") if not note.get("grace")]
    found = [(there(note.get("pname")).upper(), note.get("oct")) for note in notes]
    printed = [
        (note.findtext("pitch/step"), note.findtext("pitch/octave"))
        for note in etree.fromstring(data).iter("note")
        if note.find("pitch") is not None and note.find("grace") is None
    ]
    assert printed == found
    pages = [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]
    assert sum(page.count('class="note"') for page in pages) >= len(found)


def test_a_pdf_has_a_page_for_each() -> None:
    """And the title in its text."""
    data, _ = notated(FERRY, opened(FERRY), "ossia")
    pages = pages_of(data, "ferry")
    read = PdfReader(BytesIO(pdf_of(pages)))
    assert len(pages) == len(read.pages)
    assert "Ferry" in read.pages[0].extract_text()


def test_an_excerpt_is_a_score_of_its_own() -> None:
    """Key, meter, clef and transposition in force stand at its beginning; one reading is changed."""
    interpretation = opened(LANTERN)
    sign = next(
        s
        for s in interpretation.signs
        if s.small and s.part == interpretation.solo.index and s.main(interpretation.score).bar > 2
    )
    bar = sign.main(interpretation.score).bar
    short = {sign.place: interpretation.reading(sign.place, "short")}
    score = score_of(parse_text(excerpt(LANTERN, interpretation, (bar, bar), short), "x").root, "x")
    assert 1 == len(score.bars)
    assert interpretation.score.bars[bar].meter == score.bars[0].meter
    transposition = interpretation.solo.transposition_at(interpretation.score.bars[bar].onset_q)
    assert transposition == score.parts[0].transposition_at(Fraction(0))
    done = play(interpretation, once(interpretation.score.bars, bar, bar), short, parts=[interpretation.solo.index])
    assert [n.key for n in done.parts[0].notes] == [key for _, key in heard(interpret_analysis(Analysis(score)))]


@pytest.mark.parametrize("suffix", [".musicxml", ".svg", ".pdf"])
def test_the_command_writes_each_kind(tmp_path, suffix) -> None:
    """By the suffix; SVG a file a page."""
    out = tmp_path / f"out{suffix}"
    done = CliRunner().invoke(cli, ["notate", str(FERRY), str(out)])
    assert (0, True) == (done.exit_code, out.stat().st_size > 1000)
    assert (tmp_path / "out-2.svg").is_file() == (suffix == ".svg")


def test_an_unknown_suffix_is_refused(tmp_path) -> None:
    """With those there are."""
    done = CliRunner().invoke(cli, ["notate", str(FERRY), str(tmp_path / "out.doc")])
    assert "outputs end in .musicxml, .xml, .svg, .pdf" in str(done.exception)
