"""The part for the stand: the solo's own music, rests gathered, cues, turns, decisions in pencil."""

import re
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner
from lxml import etree
from pypdf import PdfReader

from appui.cli.main import cli
from appui.demo import bare_andante, demo_score, lead_sheet
from appui.exact import Fraction
from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.notate.glyphs import with_shapes
from appui.notate.part import part_file, part_name, solo_part
from appui.notate.pencil import pencilled
from appui.notate.rests import drawn_bars, rest_groups
from appui.notate.stand import part_pages
from appui.notate.turns import System, page_end, silences_s
from tests.there import there

REST = "<note><rest/><duration>4</duration><voice>1</voice></note>"
SVG = "{http://www.w3.org/2000/svg}"


def tone(pitch: str, duration: int = 4, kind: str = "whole") -> str:
    """A note in MusicXML, of divisions of a quarter."""
    return (
        f"<note><pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch><duration>{duration}</duration>"
        f"<voice>1</voice><type>{kind}</type></note>"
    )


def score_file(folder: Path, flute: list[str], violin: list[str], *, between: str = "") -> Path:
    """A score of two parts in 4/4 at 60, from the bars of each; `between` stands over the violin's first bar."""
    head = (
        "<attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type>"
        "</time><clef><sign>G</sign><line>2</line></clef></attributes>"
    )
    tempo = '<direction><direction-type><words>Allegro</words></direction-type><sound tempo="60"/></direction>'
    parts = ""
    for name, bars, own in (("P1", flute, ""), ("P2", violin, tempo + between)):
        each = "".join(
            f'<measure number="{number}">{head + own if number == 1 else ""}{bar}</measure>'
            for number, bar in enumerate(bars, 1)
        )
        parts += f'<part id="{name}">{each}</part>'
    listed = "".join(
        f'<score-part id="{name}"><part-name>{full}</part-name><part-abbreviation>{short}</part-abbreviation>'
        "</score-part>"
        for name, full, short in (("P1", "Flute", "Fl."), ("P2", "Violin", "Vn."))
    )
    path = folder / "small.musicxml"
    path.write_text(f'<score-partwise version="4.0"><part-list>{listed}</part-list>{parts}</score-partwise>')
    return path


def made_of(path: Path, **wishes):
    """The player and the part."""
    player = interpret(path, Wishes(pattern="none", **wishes))
    return player, solo_part(path, player)


def read(data: bytes):
    """The part as our reader has it."""
    return score_of(parse_text(data, "part").root, "part")


def music(part) -> set[tuple[Fraction, Fraction, tuple[int | Fraction, ...]]]:
    """What sounds of a part: onset, length, keys."""
    return {
        (event.onset_q, event.duration_q, tuple(note.sounding.midi for note in event.notes if not note.cue))
        for voice in part.voices
        for event in voice.events
        if event.notes and not event.notes[0].cue
    }


@pytest.fixture(scope="module")
def demo_part():
    """The demo's part with its pages."""
    player, made = made_of(demo_score())
    return player, made, part_pages(made, player.score, part_name(player))


@pytest.mark.parametrize("transpose", [None, "A", "Eb high"])
def test_the_part_has_the_solos_music(transpose) -> None:
    """Every note and small note, and nothing of the others; written for whichever instrument."""
    player, made = made_of(demo_score(), transpose=transpose)
    score = read(part_file(made, [3]))
    assert [player.solo.name] == [part.name for part in score.parts]
    assert music(player.solo) == music(score.parts[0])
    assert [bar.number for bar in player.score.bars] == [bar.number for bar in score.bars]
    assert 72 == score.tempos[0].qpm


def test_the_part_is_valid_musicxml(schema_4, tmp_path) -> None:
    """MusicXML 4.0, the schema as shipped in the package musicxml; gathered rests, cues, pages and words in it."""
    flute = [REST] * 6 + [tone("C5")] * 2
    path = score_file(tmp_path, flute, [tone("G4")] * 8)
    for each in (path, demo_score(), lead_sheet()):
        _, made = made_of(each)
        schema_4.assertValid(etree.parse(BytesIO(part_file(made, [0, 6]))))


# what is everybody's


def test_a_tempo_of_another_part_stands_in_it_once(tmp_path) -> None:
    """With its sound; a rehearsal mark too; what is the other's alone, a dynamic mark, stays there."""
    more = (
        "<direction><direction-type><words>Allegro</words></direction-type></direction>"
        "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>"
        "<direction><direction-type><dynamics><f/></dynamics></direction-type></direction>"
    )
    _, made = made_of(score_file(tmp_path, [tone("C5")] * 2, [tone("G4")] * 2, between=more), solo="Flute")
    bar = made.root.find("part/measure")
    assert ["Allegro"] == [node.text for node in bar.iter("words")]
    assert ["A"] == [node.text for node in bar.iter("rehearsal")]
    assert bar.find("direction/direction-type/dynamics") is None
    assert 60 == read(part_file(made, [])).tempos[0].qpm


def test_chord_names_are_the_players(tmp_path) -> None:
    """For a clarinet in A a minor third up, in the file's own solo; names of a chart too."""
    _, made = made_of(lead_sheet(), transpose="A")
    found = [
        node.findtext("root/root-step") + ("b" if node.findtext("root/root-alter") else "")
        for node in made.root.iter("harmony")
    ]
    assert ["Ab", "Eb", "Ab", "Ab", "Eb"] == found[:5]
    chart = tmp_path / "chart.txt"
    chart.write_text("1 C\n2 G7\n")
    path = score_file(tmp_path, [tone("C5")] * 2, [tone("G3")] * 2)
    _, made = made_of(path, solo="Violin", chart=chart, transpose="Bb")
    assert ["D", "A"] == [node.findtext("root/root-step") for node in made.root.iter("harmony")]


def test_labels_name_the_chord_as_the_player_reads_it() -> None:
    """D7 over F sharp is E7 over G sharp for a clarinet in B flat."""
    player = interpret(demo_score(), Wishes(pattern="none", transpose="Bb"))
    made = solo_part(demo_score(), player, labels=True)
    assert "E7/G# (6/5) V6/5" in [node.text for node in made.root.iter("words")]


# rests and cues


def test_bars_of_rest_are_gathered_where_nothing_is_to_be_seen(tmp_path) -> None:
    """A double bar, a new key, words, a hold part them; bars keep their number."""
    double = '<barline location="right"><bar-style>light-light</bar-style></barline>'
    key = "<attributes><key><fifths>1</fifths></key></attributes>"
    said = '<direction placement="above"><direction-type><words>solo</words></direction-type></direction>'
    hold = REST.replace("</voice>", "</voice><notations><fermata/></notations>")
    flute = [REST, REST, REST + double, REST, key + REST, REST, said + REST, hold, REST, tone("C5")]
    _, made = made_of(score_file(tmp_path, flute, [tone("G4")] * 10))
    measures = made.root.findall("part/measure")
    assert [(0, 2), (3, 3), (4, 5), (6, 6), (8, 8)] == list(rest_groups(measures))
    assert [0, 3, 4, 6, 7, 8, 9] == drawn_bars(measures)
    assert 10 == len(read(part_file(made, [])).bars)


@pytest.mark.parametrize(("bars", "cue"), [(2, False), (3, True), (9, True)])
def test_a_cue_leads_out_of_a_long_rest(tmp_path, bars, cue) -> None:
    """A bar before the solo, small, silent, named; in the solo's own pitch. Ten seconds are long."""
    path = score_file(tmp_path, [REST] * bars + [tone("C5")] * 2, [tone("G4")] * (bars + 2))
    player, made = made_of(path, solo="Flute", transpose="Bb")
    found = [note for note in made.root.iter("note") if note.find("cue") is not None]
    assert cue == bool(found)
    if cue:
        assert ["A"] == [note.findtext("pitch/step") for note in found]
        assert "Vn." in [node.text for node in made.root.iter("words")]
        assert str(bars - 1) == made.root.findtext(".//multiple-rest")
    assert music(player.solo) == music(read(part_file(made, [])).parts[0])


def test_a_cue_stays_near_the_staff(tmp_path) -> None:
    """A low part is put up by octaves, and the name says so."""
    path = score_file(tmp_path, [REST] * 5 + [tone("C5")], [tone("C2")] * 6)
    _, made = made_of(path, solo="Flute")
    (note,) = [note for note in made.root.iter("note") if note.find("cue") is not None]
    assert ("4", "Vn. 15ma") == (
        note.findtext("pitch/octave"),
        next(node.text for node in made.root.iter("words") if "Vn." in node.text),
    )


# the pencil


def test_decisions_are_pencilled() -> None:
    """An arrow before the beat, the values of a leaning note, how a trill begins; what is printed needs nothing."""
    marks = {each.place: each for each in pencilled(interpret(demo_score()))}
    assert ("←", "before the beat") == marks["oboe.2.1"][2:]
    assert ("\ueca7\u2009\ueca7", "leans, 1/2 of the note") == marks["oboe.4.1"][2:]
    assert "\ueca5\u2009\ueca7" == marks["oboe.20.1"].signs
    assert "\ueca5\uecb7\u2009\ueca5\uecb7" == marks["oboe.25.1"].signs
    assert "↓" == marks["oboe.21.1"].signs
    assert "from above, with its end" == marks["oboe.22.2"].words
    assert "from above" == marks["oboe.7.2"].words
    assert marks.keys().isdisjoint({"oboe.7.2.2", "oboe.13.2", "oboe.14.2", "oboe.30.1.2"})


def test_another_decision_is_another_mark() -> None:
    """The player's word goes before the rule's."""
    taken = interpret(demo_score(), Wishes(takes=("oboe.2.1=leaning 1/3", "oboe.13.2=plain")))
    marks = {each.place: each.signs for each in pencilled(taken)}
    assert ("\ueca7\u2009\ueca5", "plain") == (marks["oboe.2.1"], marks["oboe.13.2"])


def test_what_is_doubtful_has_a_question_mark(tmp_path) -> None:
    """Until the player decides."""
    from appui.notate import pencil

    plain = interpret(demo_score())
    assert not any(each.signs.endswith("?") for each in pencilled(plain))
    verdict = there(plain.analysis.verdict(plain.sign_at("oboe.2.1")))
    doubtful = type(verdict)(**{name: getattr(verdict, name) for name in verdict.__slots__} | {"doubtful": True})
    for player, expected in ((plain, "←?"), (interpret(demo_score(), Wishes(takes=("oboe.2.1=before",))), "←")):
        player.analysis._kept["verdict", "oboe.2.1"] = doubtful
        marks = {each.place: each.signs for each in pencil.pencilled(player)}
        assert expected == marks["oboe.2.1"]


def test_the_players_own_notes_are_written_out(tmp_path) -> None:
    """A cadenza of the plan stands in notes, and nothing is pencilled over it."""
    plan = tmp_path / "plan.toml"
    plan.write_text(
        f'[score]\nsha256 = "{interpret(bare_andante()).score.sha256}"\nstyle = "harmony"\n[embellishments]\n'
        '"flute.8.1" = { over = "3/4", notes = "F#5:3/4 A5:1/8 G5:1/8 F#5:1/4 | E5:3/4:tr" }\n'
    )
    _, made = made_of(bare_andante(), plan=plan)
    bar = made.root.xpath("part/measure[@number='8']")[0]
    assert ["F", "A", "G", "F"] == [note.findtext("pitch/step") for note in bar.iter("note")]
    assert "flute.8.1" not in [each.place for each in made.pencils]


# pages


def test_silences_lie_around_barlines(tmp_path) -> None:
    """The end of one bar and the beginning of the next, in seconds; notes over the barline leave none."""
    half = tone("C5", 2, "half")
    rest = "<note><rest/><duration>2</duration><voice>1</voice></note>"
    path = score_file(tmp_path, [half + rest, rest + half, REST, tone("C5")], [tone("G4")] * 4)
    player = interpret(path, Wishes(pattern="none", solo="Flute"))
    assert [4.0, 4.0, 4.0, 0.0] == silences_s(player.score, player.solo)


SYSTEMS = [System(4 * line, 4 * line + 3, 1000.0 * line) for line in range(12)]


@pytest.mark.parametrize(
    ("rests", "turned", "expected"),
    [
        ({}, False, (39, True)),  # pages that lie open together are filled
        ({}, True, (39, False)),  # no rest: as full as it can be, and told
        ({39: 3.0}, True, (39, True)),
        ({33: 3.0, 37: 1.2}, True, (33, True)),  # the better rest, in the middle of a line
        ({33: 3.0, 37: 2.0}, True, (37, True)),  # both are enough: the later one
        ({8: 9.0}, True, (39, False)),  # too early
        ({37: 0.5}, True, (39, False)),  # too short
    ],
)
def test_a_page_ends_at_a_rest(rests, turned, expected) -> None:
    """Ten lines have room."""
    assert expected == page_end(SYSTEMS, 9500.0, lambda bar: rests.get(bar, 0.0), turned=turned)


def test_the_last_page_needs_no_turn() -> None:
    """It ends where the music does."""
    assert (47, True) == page_end(SYSTEMS, 20000.0, lambda bar: 0.0, turned=True)


def test_the_demos_part_is_one_page(demo_part) -> None:
    """Every bar drawn once, every mark, what the marks mean, nothing left to a font of music."""
    _, made, (pages, starts, told) = demo_part
    assert (1, [0], ()) == (len(pages), starts, told)
    root = etree.fromstring(pages[0].encode())
    measures = [node for node in root.iter(f"{SVG}g") if "measure" in (node.get("class") or "").split()]
    pencils = [node for node in root.iter(f"{SVG}g") if "pencil" in (node.get("class") or "").split()]
    assert (30, len(made.pencils) + 1) == (len(measures), len(pencils))
    text = etree.tostring(root, method="text", encoding="unicode")
    assert "before the beat" in text
    assert "The Last Ferry" in text
    assert not any("\ue000" <= letter <= "\uf8ff" for letter in text)


def test_a_long_part_has_pages_that_follow_one_another() -> None:
    """A movement of a quartet: pages begin in order, each names whose it is."""
    import music21

    path = Path(music21.__file__).parent / "corpus/haydn/opus74no1/movement1.mxl"
    player, made = made_of(path, solo="2")
    pages, starts, _ = part_pages(made, player.score, part_name(player))
    assert len(pages) == len(starts) > 1
    assert all(one < other for one, other in pairwise(starts))
    for number, page in enumerate(pages[1:], 2):
        assert re.search(rf"Violin 2\s+{number}<", page)
    prints = [node for node in etree.fromstring(part_file(made, starts)).iter("print") if node.get("new-page")]
    assert len(starts) - 1 == len(prints)


def test_signs_in_text_become_shapes() -> None:
    """Words keep their places before and after; text without signs is left alone."""
    page = (
        '<svg xmlns="http://www.w3.org/2000/svg"><g class="tempo"><text x="10" y="20" font-size="0px">'
        '<tspan font-size="400px">Adagio</tspan><tspan font-family="Leipzig" font-size="720px">\ueca5</tspan>'
        '<tspan font-size="400px"> = 60</tspan></text></g><text x="1" y="2">plain</text></svg>'
    )
    root = etree.fromstring(with_shapes(page).encode())
    words = {node.text: float(there(node.get("x"))) for node in root.iter(f"{SVG}text")}
    (shape,) = root.iter(f"{SVG}path")
    x = float(there(shape.get("transform")).removeprefix("translate(").split(",")[0])
    assert words["Adagio"] == 10 < x < words["= 60"]
    assert 1 == words["plain"]


# the command


@pytest.mark.parametrize("suffix", [".musicxml", ".svg", ".pdf"])
def test_the_command_writes_the_part(tmp_path, suffix) -> None:
    """By the suffix; it says what is in it."""
    out = tmp_path / f"out{suffix}"
    done = CliRunner().invoke(cli, ["notate", str(demo_score()), str(out), "--part", "--transpose", "Bb"])
    assert (0, f"{out}  Oboe in Bb, 1 page, 24 decisions in pencil\n") == (done.exit_code, done.output)
    if suffix == ".pdf":
        assert "Oboe in Bb" in PdfReader(out).pages[0].extract_text()
    if suffix == ".musicxml":
        assert Fraction(-1) == read(out.read_bytes()).parts[0].transposition_at(Fraction(0)).diatonic


def test_written_out_the_part_needs_no_pencil(tmp_path) -> None:
    """Leaning notes are notes."""
    out = tmp_path / "out.musicxml"
    done = CliRunner().invoke(cli, ["notate", str(demo_score()), str(out), "--part", "--keep", "replace"])
    assert "1 page, 29 ornaments written out" in done.output
    assert not [node for node in etree.parse(out).iter("words") if "beat" in (node.text or "")]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--bars", "3-4"], "--part is the whole solo on one staff, so --bars is not for it"),
        (["--keep", "ossia"], "so --keep ossia is not for it"),
        (["--transpose", "H"], "--transpose 'H' is no key of an instrument"),
    ],
)
def test_what_does_not_go_together_is_refused(tmp_path, words, message) -> None:
    """No file is written."""
    out = tmp_path / "out.pdf"
    done = CliRunner().invoke(cli, ["notate", str(demo_score()), str(out), "--part", *words])
    assert message in str(done.exception)
    assert not out.exists()
