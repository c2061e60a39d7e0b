"""What hangs on notes and stands beside them in MEI: each sign by its element, at its note or at a beat."""

from __future__ import annotations

import pytest

from appui.exact import Fraction
from appui.score.model import Ornament
from appui.score.signs import find_signs
from tests.mei.mei_text import OBOE, events, measure, mei, note, one_bar, read, score

Q = Fraction
FOUR = "".join(note("c5", "4", id=f"n{number}") for number in range(1, 5))

#  element -> the ornament it is, by MusicXML's names
ORNAMENTS: dict[str, Ornament] = {
    "<trill {}/>": Ornament("trill-mark"),
    '<trill {} accidupper="s"/>': Ornament("trill-mark", above=1),
    '<trill {} place="above"/>': Ornament("trill-mark", (("placement", "above"),)),
    "<turn {}/>": Ornament("turn"),
    '<turn {} form="lower"/>': Ornament("inverted-turn"),
    '<turn {} delayed="true" accidlower="n"/>': Ornament("delayed-turn", below=0),
    '<turn {} form="lower" delayed="true" accidupper="f"/>': Ornament("delayed-inverted-turn", above=-1),
    '<mordent {} form="lower"/>': Ornament("mordent"),
    '<mordent {} form="upper"/>': Ornament("inverted-mordent"),
    '<mordent {} form="lower" long="true"/>': Ornament("mordent", (("long", "yes"),)),
    '<ornam {} glyph.num="U+E587"/>': Ornament("schleifer"),
    "<ornam {}>O</ornam>": Ornament("other-ornament", text="O"),
    "<arpeg {}/>": Ornament("arpeggiate"),
    '<arpeg {} order="down"/>': Ornament("arpeggiate", (("direction", "down"),)),
    '<arpeg {} order="nonarp"/>': Ornament("non-arpeggiate"),
}


@pytest.mark.parametrize("where", ['startid="#n2"', 'staff="1" tstamp="2"', 'tstamp="2.01"'])
@pytest.mark.parametrize("element", ORNAMENTS)
def test_each_ornament_at_its_note(element: str, where: str) -> None:
    """Pointed to, or at a beat, which decimals miss by a little."""
    found = events(one_bar(FOUR, element.format(where)))
    assert [(), (ORNAMENTS[element],), (), ()] == [event.notes[0].ornaments for event in found]


def test_a_trill_over_a_small_note() -> None:
    """A sign may hang on a small note, too."""
    layer = note("d5", "8", grace="acc", id="s") + note("c5", "1", id="m")
    found = one_bar(layer, '<trill startid="#s"/><mordent startid="#m" form="lower"/>')
    assert ["small notes", "trill", "mordent"] == sorted(
        (sign.kind for sign in find_signs(found)), key="small trill mordent".find
    )


@pytest.mark.parametrize(
    ("beside", "fermata"),
    [
        ('<fermata startid="#n4"/>', "normal"),
        ('<fermata startid="#n4" shape="angular"/>', "angled"),
        ('<fermata tstamp="4" staff="1" shape="square"/>', "square"),
    ],
)
def test_fermatas_on_notes(beside: str, fermata: str) -> None:
    """With their shape."""
    assert [None, None, None, fermata] == [event.fermata for event in events(one_bar(FOUR, beside))]


def test_a_fermata_at_the_barline_is_of_the_bar() -> None:
    """A beat after the last stands for the barline."""
    found = one_bar(FOUR, '<fermata tstamp="5"/>')
    assert found.bars[0].fermata_at_end
    assert {None} == {event.fermata for event in events(found)}


def test_a_fermata_among_the_attributes_of_a_rest() -> None:
    """A rest can be held."""
    assert "normal" == events(one_bar('<rest dur="1" fermata="above"/>'))[0].fermata


def test_an_arpeggio_of_several_chords() -> None:
    """`plist` names all of them, over staves; each has the sign once."""
    chord = f'<chord xml:id="{{}}" dur="1">{note("c4", "")}{note("e4", "")}</chord>'
    staves = OBOE + '<staffDef n="2"><label>Cembalo</label></staffDef>'
    bar = measure(chord.format("a"), chord.format("b"), beside='<arpeg plist="#a #b"/>')
    found = score(bar, staves=staves)
    assert [["arpeggio"], ["arpeggio"]] == [
        [sign.kind for sign in find_signs(found) if sign.part == part] for part in (0, 1)
    ]


@pytest.mark.parametrize("where", ['startid="#n2"', 'tstamp="2.9"', 'tstamp="3"'])
def test_a_breath_is_after_its_note(where: str) -> None:
    """A beat says the moment of breathing: the note before it ends early."""
    found = events(one_bar(FOUR, f"<breath {where}/>"))
    assert [set(), {"breath-mark"}, set(), set()] == [set(event.pauses) for event in found]


@pytest.mark.parametrize("words", ['startid="#n1" endid="#n3"', 'tstamp="1" tstamp2="0m+3" staff="1"'])
def test_slurs(words: str) -> None:
    """From note to note, or from beat to beat."""
    found = events(one_bar(FOUR, f"<slur {words}/>"))
    assert [True, True, False, False] == [event.slur_on for event in found]
    assert [False, True, True, False] == [event.slur_back for event in found]


def test_a_slur_from_a_small_note_to_its_note_is_its_own() -> None:
    """The notes around are not slurred by it."""
    layer = note("c5", "2") + note("d5", "8", grace="acc", id="s") + note("c5", "2", id="m")
    first, second = events(one_bar(layer, '<slur startid="#s" endid="#m"/>'))
    assert (False, False) == (first.slur_on, second.slur_back)
    assert second.small_before[0].slur_start


@pytest.mark.parametrize(
    ("first", "second", "beside"),
    [({"tie": "i"}, {"tie": "t"}, ""), ({"id": "a"}, {"id": "b"}, '<tie startid="#a" endid="#b"/>')],
)
def test_ties(first: dict[str, str], second: dict[str, str], beside: str) -> None:
    """Of attributes and of elements, over the barline."""
    found = score(measure(note("c5", "1", **first), beside=beside), measure(note("c5", "1", **second)))
    one, two = events(found)
    assert (True, False, False, True) == (
        one.notes[0].tied_on,
        one.notes[0].tied_back,
        two.notes[0].tied_on,
        two.notes[0].tied_back,
    )


def test_one_note_of_a_chord_is_tied() -> None:
    """The others are struck again."""
    chord = '<chord dur="2">{}{}</chord>'
    layer = chord.format(note("c5", "", tie="i"), note("e5", "")) + chord.format(
        note("c5", "", tie="t"), note("e5", "")
    )
    assert [True, False] == [each.tied_on for each in events(one_bar(layer))[0].notes]


def test_dynamics_and_hairpins() -> None:
    """At their beats, for their staff; thirds of a beat come out as the notes they stand at."""
    layer = f'<tuplet num="3" numbase="2">{note("c5", "8") * 3}</tuplet>' + note("c5") + note("c5", "2")
    beside = (
        '<dynam tstamp="1.3333">mf</dynam><dynam tstamp="2">p dolce</dynam>'
        '<hairpin tstamp="1" tstamp2="0m+3" form="cres"/>'
    )
    part = one_bar(layer, beside).parts[0]
    assert [(Q(1, 3), "mf"), (Q(1), "p")] == [(each.onset_q, each.mark) for each in part.dynamics]
    assert [(Q(0), Q(2), "crescendo")] == [(each.onset_q, each.end_q, each.kind) for each in part.hairpins]


@pytest.mark.parametrize(
    ("element", "qpm", "origin", "words"),
    [
        ('<tempo tstamp="1" mm="60" mm.unit="8" mm.dots="1">Andante</tempo>', Q(45), "metronome", "Andante"),
        ('<tempo tstamp="1" midi.bpm="72">Largo \ueca5 = 40</tempo>', Q(72), "sound", "Largo"),
        ('<tempo tstamp="1">Adagio</tempo>', Q(56), "assumed", "Adagio"),
        ('<dir tstamp="1">Adagio</dir>', Q(56), "assumed", "Adagio"),
    ],
)
def test_tempos(element: str, qpm: Fraction, origin: str, words: str) -> None:
    """In quarter notes a minute, else for its printed unit, else by its word."""
    [mark] = one_bar(FOUR, element).tempos
    assert (qpm, origin, words) == (mark.qpm, mark.origin, mark.words)


def test_a_tempo_of_the_definition() -> None:
    """A `scoreDef` may have one."""
    assert Q(66) == one_bar(FOUR, definition='midi.bpm="66"').tempos[0].qpm


@pytest.mark.parametrize(
    ("element", "kind"),
    [
        ('<repeatMark tstamp="1" func="segno"/>', "segno"),
        ('<repeatMark tstamp="4" func="daCapo">D.C. al Fine</repeatMark>', "dacapo"),
        ('<dir tstamp="4">D. S.</dir>', "dalsegno"),
        ('<dir tstamp="4">Fine</dir>', "fine"),
        ('<dir tstamp="4">to Coda</dir>', "tocoda"),
    ],
)
def test_road_signs(element: str, kind: str) -> None:
    """By their element or by their words."""
    assert [kind] == [jump.kind for jump in one_bar(FOUR, element).bars[0].jumps]


def test_chord_symbols_and_figures() -> None:
    """A `harm` is one or the other; figures may be a music font's."""
    beside = (
        '<harm tstamp="1">D7/F♯</harm><harm tstamp="2"><fb><f>6</f><f>♯</f></fb></harm>'
        '<harm tstamp="3"><fb><f>\uea5d</f><f>\ue260\uea57</f></fb></harm><harm tstamp="4">V7</harm>'
    )
    found = one_bar(FOUR, beside)
    [symbol] = found.parts[0].chord_symbols
    assert ("D", "dominant", "F#", Q(0)) == (symbol.root, symbol.kind, symbol.bass, symbol.onset_q)
    assert [[("6", ""), ("", "sharp")], [("7", ""), ("5", "flat")]] == [
        [(figure.number, figure.prefix) for figure in each.figures] for each in found.parts[0].figures
    ]
    assert any("'V7' is no chord symbol" in notice.text for notice in found.notices)


@pytest.mark.parametrize(
    ("layer", "beside", "words"),
    [
        (FOUR, '<mordent startid="#n1"/>', "a mordent does not say whether it goes up or down"),
        (FOUR, '<trill startid="#nobody"/>', "an ornament (trill-mark) belongs to no note"),
        (FOUR, '<slur startid="#n1" endid="#nobody"/>', "a slur has an end that cannot be found"),
        (FOUR, '<hairpin tstamp="1" form="cres"/>', "a hairpin begins and never ends"),
        (note("c5", "2") + "<beatRpt/>", "", "the sign <beatRpt> for a repeated figure is not read"),
        ("<mRpt/>", "", "a bar is to be as the one before it"),
        (f'<graceGrp attach="pre">{note("d5", "8")}</graceGrp>{note("c5", "1")}', "", "read by their place"),
    ],
)
def test_what_is_not_read_is_said(layer: str, beside: str, words: str) -> None:
    """Nothing is left out without a notice that names the line."""
    found = one_bar(layer, beside)
    assert [True] == ["line" in notice.place for notice in found.notices if words in notice.text]


def test_a_staff_nobody_has_defined_is_said() -> None:
    """Its notes cannot be given to anybody."""
    found = score(measure(note("c5", "1"), note("c3", "1")))
    assert any("staff '2' is defined nowhere: left out" in notice.text for notice in found.notices)


def test_namespaces_and_prefixes_do_not_matter() -> None:
    """A file may give its elements a prefix."""
    plain = mei(measure(note("c5", "1"))).replace("xmlns=", "xmlns:m=")
    text = plain.replace("<", "<m:").replace("<m:/", "</m:")
    assert "C5" == events(read(text))[0].notes[0].written.name
