"""Notes keep their names through the engraver, and lettering touches nothing."""

import re
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from appui.interpret.interpretation import Interpretation, interpret
from appui.interpret.wishes import Wishes
from appui.page.engrave import Engraver, draw_small
from appui.page.lettering import Label, letter
from appui.page.marked import mark_score

SVG = "{http://www.w3.org/2000/svg}"


def test_every_sign_of_the_demo_is_found_in_the_picture(interpretation: Interpretation, demo: Path) -> None:
    """Small notes, main notes and drawn signs by name, at both widths."""
    marked = mark_score(demo)
    engraver = Engraver(marked, "ferry", 0, 29)
    solo = [sign for sign in interpretation.signs if sign.part == interpretation.solo.index]
    drawn = {sign.place: engraver.glyphs(sign.kind, marked.notes[sign.place].main) for sign in solo}
    names = {name for sign in solo for name in (*marked.notes[sign.place].small, marked.notes[sign.place].main)}
    names |= {name for found in drawn.values() for name in found}
    assert {1} == {len(drawn[sign.place]) for sign in solo if sign.kind in ("trill", "fermata")}
    for width in (2000, 1000):
        layout = engraver.lay_out(width, names)
        found = set(re.findall(r' id="([^"E][^"]*)"', "".join(layout.systems)))
        assert names == found & names


def test_a_name_is_the_note_it_names(interpretation: Interpretation, demo: Path) -> None:
    """The pitch of the small note of each sign, read from the text under its name."""
    marked = mark_score(demo)
    root = etree.fromstring(marked.text.encode())
    notes = {node.get("id"): node for node in root.iter("note")}
    for sign in interpretation.signs:
        for small, name in zip(sign.small, marked.notes[sign.place].small, strict=True):
            note, written = notes[name], small.written[0]
            assert note.find("grace") is not None
            assert (written.step, str(written.octave)) == (note.findtext("pitch/step"), note.findtext("pitch/octave"))


def test_only_the_bars_asked_for_are_drawn(demo: Path) -> None:
    """A range by index, in its own clef and key."""
    layout = Engraver(mark_score(demo), "ferry", 3, 5).lay_out(2000, ["bar-3", "bar-5"])
    text = "".join(layout.systems)
    assert 3 == text.count('class="measure"')
    assert 'class="keySig"' in text


def test_markup_in_the_score_stays_text(hostile: Path, hostile_text: str) -> None:
    """The picture holds no element the engraver did not draw."""
    text = "".join(Engraver(mark_score(hostile), "hostile", 0, 1).lay_out(2000, []).systems)
    tags = {node.tag.removeprefix(SVG) for node in etree.fromstring(f"<all>{text}</all>").iter()}
    assert tags <= {"all", "svg", "g", "path", "use", "text", "tspan", "rect", "polygon", "polyline", "ellipse", "line"}
    assert hostile_text in etree.tostring(etree.fromstring(f"<all>{text}</all>"), method="text", encoding="unicode")


def test_the_same_picture_twice(demo: Path) -> None:
    """The engraver's own names, drawn by chance, are gone."""
    marked = mark_score(demo)
    first, second = (Engraver(marked, "ferry", 0, 3).lay_out(1000, ["n1"]) for _ in range(2))
    assert first == second


def picture(*places: int) -> Any:
    """An empty system 20000 wide and 5000 high with noteheads at some places, named by number."""
    notes = "".join(
        f'<g id="n{i}"><use href="#E0A4" transform="translate({x}, 2000) scale(0.7, 0.7)"/></g>'
        for i, x in enumerate(places)
    )
    return etree.fromstring(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 2000 500"><svg viewBox="0 0 20000 5000">'
        f'<g transform="translate(100, 300)">{notes}</g></svg></svg>'
    )


def words_of(root: Any, kind: str) -> list[tuple[float, float, str]]:
    return [
        (float(text.get("x")), float(text.get("y")), text.text)
        for group in root.iter(f"{SVG}g")
        if group.get("class") == kind
        for text in group.iter(f"{SVG}text")
    ]


@pytest.mark.parametrize("places", [(5000, 5300), (5000, 5300, 5600), (5000, 5000), (5000, 5200, 5900, 6100, 6150)])
def test_words_that_would_touch_stand_apart(places: tuple[int, ...]) -> None:
    """Beside one another or in rows, no line through a word; one far away stands in the first row over its sign."""
    root = picture(*places, 15000)
    letter(root, [Label(f"w{i}", "passes", (f"n{i}",), (), f"n{i}") for i in range(len(places) + 1)], 340)
    words = sorted(words_of(root, "word"))
    half = len("passes") * 340 * 0.52 / 2
    lowest = max(y for _, y, _ in words)
    assert (15110, lowest) == words[-1][:2]
    for number, (x, y, _) in enumerate(words):
        for other, at, _ in words[:number]:
            assert y != at or abs(x - other) > 2 * half
    for line in root.iter(f"{SVG}line"):
        down, end = float(line.get("x1")), float(line.get("y1"))
        assert not [x for x, y, _ in words if y > end and abs(x - down) < half]


def test_lettering_is_outside_what_was_drawn() -> None:
    """The picture grows by what is lettered: above and below nothing of the engraver's is covered."""
    root = picture(1000, 1300)
    letter(root, [Label(f"w{i}", "leans", (f"n{i}",), ("C7/E", "V6/5"), f"n{i}") for i in range(2)], 340)
    _, top, width, height = map(float, root.find(f"{SVG}svg").get("viewBox").split())
    assert 20000 == width
    for _, y, _ in words_of(root, "word"):
        assert top <= y + 300 - 340 * 0.8
        assert y + 300 < 0
    for _, y, _ in words_of(root, "harmony"):
        assert 5000 < y + 300 < top + height


def test_the_same_harmony_at_one_note_is_lettered_once() -> None:
    """A trill and a small note on one note stand over one chord."""
    root = picture(1000)
    letter(root, [Label(f"w{i}", "leans", ("n0",), ("C", "V"), "n0") for i in range(2)], 340)
    assert ["C", "V"] == [text for _, _, text in words_of(root, "harmony")]


def test_a_short_staff_is_as_wide_as_its_notes() -> None:
    """One line, with room for no more than is on it."""
    text = (
        "<score-partwise><part-list><score-part id='P1'><part-name/></score-part></part-list><part id='P1'>"
        "<measure number='1'><attributes><divisions>1</divisions><clef><sign>G</sign><line>2</line></clef></attributes>"
        "{}</measure></part></score-partwise>"
    )
    note = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>1</duration><type>quarter</type></note>"
    one, four = (float(draw_small([text.format(note * n)])[0][0].split('viewBox="0 0 ')[1].split()[0]) for n in (1, 4))
    assert one < four < 1000


@pytest.mark.parametrize("shape", ["one line", "timewise"])
def test_the_form_of_the_file_does_not_matter(
    interpretation: Interpretation, demo: Path, tmp_path: Path, shape: str
) -> None:
    """Without line breaks, or bar by bar, the same small notes are named."""
    root = etree.parse(demo).getroot()
    if shape == "timewise":
        turned = etree.Element("score-timewise", version="4.0")
        turned.extend([child for child in list(root) if child.tag != "part"])
        parts = root.findall("part")
        for bars in zip(*(part.findall("measure") for part in parts), strict=True):
            measure = etree.SubElement(turned, "measure", dict(bars[0].attrib))
            for part, bar in zip(parts, bars, strict=True):
                etree.SubElement(measure, "part", id=part.get("id")).extend(list(bar))
        root = turned
    path = tmp_path / "again.musicxml"
    path.write_bytes(re.sub(rb">\s+<", b"><", etree.tostring(root)))
    marked = mark_score(path)
    solo = [sign for sign in interpretation.signs if sign.small]
    found = {node.get("id"): node for node in etree.fromstring(marked.text.encode()).iter("note")}
    for sign in solo:
        names = marked.notes[sign.place].small
        steps = [found[name].findtext("pitch/step") for name in names]
        assert [small.written[0].step for small in sign.small] == steps


def test_a_solo_for_another_instrument_is_drawn_as_its_player_reads_it(demo: Path) -> None:
    """The same signs at the same notes, a tone higher."""
    player = interpret(demo, Wishes(transpose="Bb"))
    plain, marked = mark_score(demo), mark_score(demo, player=player)
    assert plain.notes == marked.notes
    steps = [root.findtext("part/measure/note/pitch/step") for root in map(etree.fromstring, (plain.text, marked.text))]
    assert ["D", "E"] == steps
