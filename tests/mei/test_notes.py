"""Notes of an MEI file: pitches, exact lengths, small notes with their strokes, rests, tremolos, staves, voices.

Expected values follow MEI 5.0, the customization for common notation (memory), and are written out.
"""

from __future__ import annotations

import pytest

from appui.exact import Fraction
from appui.score.pitch import Transposition
from tests.mei.mei_text import OBOE, events, measure, note, one_bar, score

Q = Fraction


def _lengths(found) -> list[Fraction]:
    return [event.duration_q for event in events(found)]


def _names(found, part: int = 0) -> list[str]:
    return [each.written.name for event in events(found, part) for each in event.notes]


@pytest.mark.parametrize(
    ("layer", "lengths"),
    [
        (note("c5", "2", dots=1) + note("c5"), [Q(3), Q(1)]),
        (note("c5", "2", "<dot/><dot/>") + note("c5", "8"), [Q(7, 2), Q(1, 2)]),
        (f'<tuplet num="3" numbase="2">{note("c5", "8") * 3}</tuplet>', [Q(1, 3)] * 3),
        (f'<tuplet num="5"><beam>{note("c5", "16") * 5}</beam></tuplet>', [Q(1, 5)] * 5),
        (
            f'<tuplet num="3" numbase="2"><tuplet num="3" numbase="2">{note("c5", "8") * 3}</tuplet></tuplet>',
            [Q(2, 9)] * 3,
        ),
        (note("c5", "breve"), [Q(8)]),
        ('<rest dur="4"/><space dur="4"/>' + note("c5", "2"), [Q(1), Q(2)]),
        (f'<chord dur="2" dots="1">{note("c5", "")}{note("e5", "")}</chord>', [Q(3)]),
        (f'<fTrem beams="2">{note("c5", "2")}{note("e5", "2")}</fTrem>', [Q(1), Q(1)]),
    ],
)
def test_lengths_are_exact(layer: str, lengths: list[Fraction]) -> None:
    """Dots, tuplets within tuplets, gaps and tremolos of two notes add up as fractions."""
    assert lengths == _lengths(one_bar(layer))


def test_a_tuplet_may_be_marked_from_note_to_note() -> None:
    """`tupletSpan` stands beside the notes, and ends where it says."""
    layer = "".join(note("c5", "8", id=f"n{number}") for number in range(4))
    found = one_bar(layer, '<tupletSpan startid="#n0" endid="#n2" num="3" numbase="2"/>')
    assert [Q(1, 3)] * 3 + [Q(1, 2)] == _lengths(found)


def test_pulses_keep_a_tuplet_that_is_not_marked() -> None:
    """A file that counts in pulses says how long a note really is."""
    staff = '<staffDef n="1" lines="5" ppq="12"><label>Oboe</label></staffDef>'
    found = one_bar(note("c5", "8", dur_ppq=4) * 3, staves=staff)
    assert [Q(1, 3)] * 3 == _lengths(found)
    assert {Q(2, 3)} == {event.tuplet for event in events(found)}


@pytest.mark.parametrize(
    ("attributes", "name"),
    [
        ({"accid_ges": "s"}, "F#5"),
        ({"accid": "f"}, "Fb5"),
        ({"accid": "x"}, "F##5"),
        ({"accid": "ff"}, "Fbb5"),
        ({"accid": "n", "accid_ges": "n"}, "F5"),
        ({"inside": '<accid accid="s"/>'}, "F#5"),
        ({"inside": '<accid accid.ges="s"/>'}, "F#5"),
        ({"accid": "1qs"}, "F(+1/2)5"),
        ({"oct_ges": "6"}, "F6"),
    ],
)
def test_pitches(attributes: dict[str, str], name: str) -> None:
    """Sounding accidentals go before printed ones, in attributes or children; octaves as they sound."""
    assert [name] == _names(one_bar(note("f5", "1", **attributes)))


def test_a_file_without_sounding_accidentals_goes_by_key_and_bar() -> None:
    """Where no note says how it sounds, the signature does, and what was printed before in the bar."""
    bars = (
        measure(note("f5") + note("f5", accid="n") + note("f5") + note("f4")),
        measure(note("f5") + note("c5") + note("g5", "2")),
    )
    found = score(*bars, definition='meter.count="4" meter.unit="4" key.sig="2s"')
    assert ["F#5", "F5", "F5", "F#4", "F#5", "C#5", "G5"] == _names(found)


def test_one_sounding_accidental_means_that_all_are_there() -> None:
    """Then a bare letter is natural, whatever the signature."""
    found = one_bar(note("f5", accid_ges="s") + note("c5"), definition='keysig="2s"')
    assert ["F#5", "C5"] == _names(found)


@pytest.mark.parametrize(
    ("attributes", "slash"),
    [
        ({"grace": "acc"}, False),
        ({"grace": "unacc"}, True),
        ({"grace": "unknown"}, None),
        ({"grace": "acc", "stem_mod": "1slash"}, True),
        ({"grace": "unacc", "stem_mod": "none"}, False),
    ],
)
def test_the_stroke_of_a_small_note(attributes: dict[str, str], slash: bool | None) -> None:
    """`stem.mod` prints it; without one, `grace` says how it is drawn."""
    [main] = events(one_bar(note("d5", "8", **attributes) + note("c5", "2")))
    [small] = main.small_before
    assert (slash, "D5", Q(1, 2), "eighth") == (small.slash, small.written[0].name, small.value_q, small.type_name)


def test_small_notes_of_a_group_keep_their_values_and_order() -> None:
    """A group is one thing to its note; a dotted value and a chord stay."""
    chord = f'<chord dur="16">{note("e5", "")}{note("g5", "")}</chord>'
    group = f'<graceGrp grace="acc"><beam>{note("d5", "16", dots=1)}{chord}</beam></graceGrp>'
    [main] = events(one_bar(group + note("c5", "2")))
    assert [("D5",), ("E5", "G5")] == [tuple(p.name for p in small.written) for small in main.small_before]
    assert [Q(3, 8), Q(1, 4)] == [small.value_q for small in main.small_before]
    assert [0, 1] == [small.ordinal for small in main.small_before]
    assert 3 == main.ordinal


def test_small_notes_at_the_end_of_a_bar_follow_their_note() -> None:
    """As in every notation: with no note of their voice to come in the bar they belong to the one before."""
    found = score(measure(note("c5", "1") + note("d5", "16", grace="acc")), measure(note("e5", "1")))
    first, second = events(found)
    assert (["D5"], ()) == ([s.written[0].name for s in first.small_after], second.small_before)


def test_the_time_a_small_note_takes() -> None:
    """`grace.time` is a share of the note before or after."""
    layer = (
        note("d5", "8", grace="acc", grace_time="25%") + note("c5") + note("d5", "8", grace="unacc", grace_time="10%")
    )
    first, second = events(one_bar(layer + note("c5")))
    assert (Q(25), None) == (first.small_before[0].steal_following, first.small_before[0].steal_previous)
    assert (None, Q(10)) == (second.small_before[0].steal_following, second.small_before[0].steal_previous)


@pytest.mark.parametrize(
    ("layer", "kind", "strokes"),
    [
        (f"<bTrem>{note('c5', '2', stem_mod='3slash')}</bTrem>", "single", "3"),
        (f'<bTrem unitdur="16">{note("c5", "2")}</bTrem>', "single", "2"),
        (f'<bTrem unitdur="32">{note("c5", "8")}</bTrem>', "single", "2"),
        (f'<bTrem form="unmeas">{note("c5", "2")}</bTrem>', "unmeasured", "0"),
        (note("c5", "2", stem_mod="2slash"), "single", "2"),
        (f'<fTrem beams="3">{note("c5", "2")}{note("e5", "2")}</fTrem>', "start", "3"),
    ],
)
def test_tremolos(layer: str, kind: str, strokes: str) -> None:
    """Strokes are printed, or follow from the value of the single notes less the flags a note has."""
    [ornament] = events(one_bar(layer))[0].notes[0].ornaments
    assert ("tremolo", kind, strokes) == (ornament.kind, ornament.get("type"), ornament.text)


def test_hidden_and_cue_notes() -> None:
    """What is not printed is hidden, what is cued is silent."""
    layer = (
        note("c5", visible="false")
        + note("c5", cue="true")
        + note("d5", "8", grace="acc", visible="false")
        + note("c5")
    )
    first, second, third = events(one_bar(layer))
    assert (True, False) == (first.notes[0].hidden, first.notes[0].cue)
    assert (False, True) == (second.notes[0].hidden, second.notes[0].cue)
    assert third.small_before[0].hidden


def test_articulations_of_attributes_and_children() -> None:
    """By MusicXML's names, as everywhere."""
    [event] = events(one_bar(note("c5", "1", '<artic artic="ten"/>', artic="stacc acc")))
    assert {"staccato", "accent", "tenuto"} == event.articulations


def test_layers_are_voices() -> None:
    """Each begins at the start of the bar."""
    layers = f'<layer n="1">{note("c5", "2")}</layer><layer n="2">{note("e4")}{note("f4")}</layer>'
    text = f'<measure><staff n="1">{layers}</staff></measure>'
    found = score(text)
    assert ["1", "2"] == [voice.name for voice in found.parts[0].voices]
    assert [Q(0), Q(1)] == [event.onset_q for event in events(found, 0, 1)]


def test_staves_of_one_brace_are_one_part() -> None:
    """A keyboard is named once; a note may cross to its other staff."""
    staves = (
        f'{OBOE.replace("1", "3", 1)}<staffGrp><grpSym symbol="brace"/><label>Cembalo</label>'
        '<staffDef n="1" lines="5"/><staffDef n="2" lines="5"/></staffGrp>'
    )
    found = score(measure(note("c5", "1", staff="2"), note("c3", "1"), note("a4", "1")), staves=staves)
    assert [("Oboe", 1), ("Cembalo", 2)] == [(part.name, part.staves) for part in found.parts]
    assert [2, 2] == [note.staff for voice in found.parts[1].voices for event in voice.events for note in event.notes]


def test_named_staves_in_a_brace_are_parts_of_their_own() -> None:
    """Two violins braced together stay two."""
    named = "".join(f'<staffDef n="{n}" lines="5"><label>Violino {n}</label></staffDef>' for n in (1, 2))
    found = score(measure(note("c5", "1"), note("a4", "1")), staves=f'<staffGrp symbol="brace">{named}</staffGrp>')
    assert ["Violino 1", "Violino 2"] == [part.name for part in found.parts]


def test_a_part_takes_its_name_where_the_file_has_it() -> None:
    """Label, its abbreviation, the attribute of older files, the instrument; else its number."""
    staves = (
        '<staffDef n="1"><label>Clarinet in B<rend>\ue260</rend></label></staffDef>'
        '<staffDef n="2"><labelAbbr>Vc.</labelAbbr></staffDef><staffDef n="3" label="Fagotto"/>'
        '<staffDef n="4"><instrDef midi.instrnum="73" midi.instrname="Concert_Flute"/></staffDef><staffDef n="5"/>'
    )
    found = score(measure(*[note("c5", "1")] * 5), staves=staves)
    assert ["Clarinet in B♭", "Vc.", "Fagotto", "Concert Flute", "Part 5"] == [part.name for part in found.parts]
    assert 73 == found.parts[3].program


def test_transposing_staves_sound_elsewhere() -> None:
    """Letters are as written; what sounds is lower by `trans.diat` and `trans.semi`."""
    staff = '<staffDef n="1" trans.diat="-1" trans.semi="-2"><label>Clarinet</label></staffDef>'
    [event] = events(one_bar(note("c5", "1"), staves=staff))
    assert ("C5", "Bb4") == (event.notes[0].written.name, event.notes[0].sounding.name)
    assert Transposition(-1, -2) == one_bar(note("c5", "1"), staves=staff).parts[0].transposition_at(Q(0))


def test_an_octave_line_moves_what_does_not_say_its_octave() -> None:
    """Notes and small notes under it, and no others."""
    layer = note("c5", id="a") + note("e5", "8", grace="acc") + note("d5", id="b") + note("e5", "2")
    found = one_bar(layer, '<octave startid="#a" endid="#b" dis="8" dis.place="above"/>')
    assert ["C6", "D6", "E5"] == _names(found)
    assert "E6" == events(found)[1].small_before[0].written[0].name


def test_the_main_text_of_an_edition_is_read() -> None:
    """The lemma of variants, what was corrected, what was added; what was struck out is gone; said once."""
    layer = (
        f"<app><rdg>{note('c5')}</rdg><lem>{note('d5')}</lem></app><choice><sic>{note('c5')}</sic><corr>{note('e5')}</corr></choice>"
        f"<supplied>{note('f5')}</supplied><del>{note('c5')}</del><subst><del>{note('c5')}</del><add>{note('g5')}</add></subst>"
    )
    found = one_bar(layer)
    assert ["D5", "E5", "F5", "G5"] == _names(found)
    assert 1 == sum("variants" in notice.text for notice in found.notices)


def test_lyrics_that_are_figures_are_figures() -> None:
    """Many files carry them so, as in MusicXML."""
    layer = note("g3", "2", "<verse><syl>6</syl></verse>") + note("d3", "2", "<verse><syl>7</syl></verse>")
    figures = one_bar(layer).parts[0].figures
    assert [("6", Q(0)), ("7", Q(2))] == [(each.figures[0].number, each.onset_q) for each in figures]


def test_lines_of_the_file_name_the_notes() -> None:
    """So that messages and notices can name them."""
    found = score(measure(note("c5", "1")), measure(note("d5", "1") + "\n" + note("e5", "1")))
    assert [2, 3, 4] == [event.line for event in events(found)]
