"""Bars, meters, keys, repeats, endings and movements of MEI, and its head."""

from __future__ import annotations

import pytest

from appui.exact import Fraction
from appui.score.model import Meter
from appui.style.measured import year_of
from tests.mei.mei_text import HEAD, OBOE, events, measure, mei, note, one_bar, read, score

Q = Fraction
WHOLE = note("c5", "1")


def _numbers(found) -> list[str]:
    return [bar.number for bar in found.bars]


def test_bars_are_numbered_as_printed() -> None:
    """Whatever the file calls them."""
    assert ["5", "5a", "6"] == _numbers(score(*[measure(WHOLE, attributes=f'n="{n}"') for n in ("5", "5a", "6")]))


def test_bars_without_numbers_are_counted() -> None:
    """From 1, or from 0 where the first is a pickup."""
    assert ["1", "2"] == _numbers(score(measure(WHOLE), measure(WHOLE)))
    found = score(measure(note("c5")), measure(WHOLE))
    assert (["0", "1"], True) == (_numbers(found), found.bars[0].pickup)


def test_a_bar_cut_by_a_repeat_is_one_bar() -> None:
    """Its second half has the number of the first and does not count."""
    found = score(
        measure(WHOLE, attributes='n="1"'),
        measure(note("c5", "2", dots=1), attributes='n="2" right="rptend"'),
        measure(note("c5"), attributes='left="rptstart"'),
        measure(WHOLE, attributes='n="3"'),
    )
    assert ["1", "2", "2", "3"] == _numbers(found)
    assert [False, False, True, False] == [bar.implicit for bar in found.bars]


def test_a_rest_of_a_bar_is_as_long_as_the_bar() -> None:
    """Also in a pickup, where its name says more than there is."""
    staves = OBOE + '<staffDef n="2"><label>Cello</label></staffDef>'
    found = score(
        measure(note("c5"), "<mRest/>", attributes='metcon="false"'), measure(WHOLE, "<mRest/>"), staves=staves
    )
    assert [Q(1), Q(4)] == [event.duration_q for event in events(found, 1)]
    assert [Q(1), Q(4)] == [bar.length_q for bar in found.bars]


def test_a_rest_of_several_bars_is_several_bars() -> None:
    """The numbers go on after it."""
    found = score(
        measure(WHOLE, attributes='n="1"'),
        measure('<multiRest num="3"/>', attributes='n="2"'),
        measure(WHOLE, attributes='n="5"'),
    )
    assert ["1", "2", "3", "4", "5"] == _numbers(found)
    assert Q(16) == events(found)[-1].onset_q


def test_the_same_bar_again() -> None:
    """`mRpt`, twice in a row, repeats the last bar with notes."""
    found = score(measure(note("d5", "2") + note("e5", "2")), measure("<mRpt/>"), measure("<mRpt/>"))
    assert ["D5", "E5"] * 3 == [event.notes[0].written.name for event in events(found)]


@pytest.mark.parametrize(
    ("definition", "meter"),
    [
        ('meter.count="6" meter.unit="8"', Meter(6, 8)),
        ('meter.sym="cut"', Meter(2, 2, "cut")),
        ('meter.sym="common"', Meter(4, 4, "common")),
        ('meter.count="3+2" meter.unit="8"', Meter(5, 8)),
    ],
)
def test_meters_of_attributes(definition: str, meter: Meter) -> None:
    """Counts may be sums."""
    assert meter == one_bar(WHOLE, definition=definition).bars[0].meter


@pytest.mark.parametrize(
    ("inside", "meter"),
    [
        ('<meterSig count="3" unit="4"/>', Meter(3, 4)),
        (
            '<meterSigGrp func="mixed"><meterSig count="3" unit="4"/><meterSig count="1" unit="8"/></meterSigGrp>',
            Meter(7, 8),
        ),
        (
            '<meterSigGrp func="interchanging"><meterSig count="3" unit="4"/><meterSig sym="cut"/></meterSigGrp>',
            Meter(3, 4),
        ),
    ],
)
def test_meters_of_children(inside: str, meter: Meter) -> None:
    """Of the staff; mixed ones are added up."""
    found = one_bar(WHOLE, staves=f'<staffDef n="1">{inside}</staffDef>')
    assert meter == found.bars[0].meter
    assert ("interchanging" in inside) == any("take turns" in notice.text for notice in found.notices)


@pytest.mark.parametrize(
    ("definition", "inside", "key"),
    [
        ('keysig="3f" key.mode="minor"', "", (-3, "minor", ())),
        ('key.sig="2s"', "", (2, "", ())),
        ("", '<keySig sig="1f" mode="major"/>', (-1, "major", ())),
        ("", '<keySig sig="0"/>', (0, "", ())),
        (
            "",
            '<keySig sig="mixed"><keyAccid pname="b" accid="f"/><keyAccid pname="f" accid="s"/></keySig>',
            (0, "", (("B", -1), ("F", 1))),
        ),
    ],
)
def test_keys(definition: str, inside: str, key: tuple[object, ...]) -> None:
    """Of MEI 5, of MEI 4, of an element; uncommon ones letter by letter."""
    found = one_bar(WHOLE, definition=definition, staves=f'<staffDef n="1">{inside}</staffDef>')
    [first] = found.parts[0].keys
    assert key == (first.fifths, first.mode, first.altered)


def test_keys_and_meters_change() -> None:
    """Between bars for all staves or one, and in the middle of a bar."""
    change = '<scoreDef keysig="2s" meter.count="3" meter.unit="4"/>'
    middle = note("c5", "2") + '<keySig sig="1f"/>' + note("c5")
    found = score(measure(WHOLE), change, measure(middle))
    assert [(Q(4), 2), (Q(6), -1)] == [(key.onset_q, key.fifths) for key in found.parts[0].keys]
    assert [Q(4), Q(3)] == [bar.length_q for bar in found.bars]


def test_repeats_and_endings() -> None:
    """Barlines and brackets; an ending may be for several times."""
    end = 'right="rptend"'
    found = score(
        measure(WHOLE, attributes='left="rptstart"'),
        f'<ending n="1, 2">{measure(WHOLE, attributes=end)}</ending>',
        f'<ending n="3">{measure(WHOLE)}</ending>',
        measure(WHOLE, attributes='right="rptboth"'),
        measure(WHOLE),
    )
    assert [True, False, False, False, True] == [bar.repeat_forward for bar in found.bars]
    assert [0, 2, 0, 2, 0] == [bar.repeat_backward for bar in found.bars]
    assert [(), (1, 2), (3,), (), ()] == [tuple(p for e in bar.endings for p in e.passes) for bar in found.bars]


def test_movements_follow_one_another() -> None:
    """A staff goes on in the part of its name; one that is new has been silent before."""
    named = "<mdiv><score><scoreDef><staffGrp>{}{}</staffGrp></scoreDef><section>{}</section></score></mdiv>"
    flute, oboe, bass = (
        f'<staffDef n="{n}"><label>{name}</label></staffDef>' for n, name in ((1, "Flauto"), (1, "Oboe"), (2, "Basso"))
    )
    first, second = measure(WHOLE, WHOLE, attributes='n="1"'), measure(note("e5", "1"), WHOLE, attributes='n="1"')
    body = named.format(flute, bass, first) + named.format(oboe, bass, second)
    found = read(f"<mei>{HEAD}<music><body>{body}</body></music></mei>")
    assert ["Flauto", "Basso", "Oboe"] == [part.name for part in found.parts]
    assert ["1", "1"] == _numbers(found)
    assert [[Q(0)], [Q(0), Q(4)], [Q(4)]] == [[event.onset_q for event in events(found, part)] for part in range(3)]


def test_the_head_tells_who_and_when() -> None:
    """Title, composer with dates, when it was written: the year of the music is that."""
    head = (
        "<meiHead><fileDesc><titleStmt><title>Sonata</title><composer>N. N. (1700-1780)</composer></titleStmt>"
        "<pubStmt/></fileDesc>"
        "<workList><work><creation><date>1761</date></creation></work></workList></meiHead>"
    )
    found = one_bar(WHOLE, head=head)
    assert ("Sonata", (("composer", "N. N. (1700-1780)"), ("date", "1761"))) == (found.title, found.creators)
    assert 1761 == year_of(found.creators)


def test_a_piece_without_a_title_goes_by_its_file() -> None:
    """As a MusicXML file does."""
    assert "page" == one_bar(WHOLE, head="<meiHead/>").title


def test_the_text_is_that_of_the_helper() -> None:
    """The helper writes what an MEI reader takes: its root, its namespace."""
    assert mei(measure(WHOLE)).startswith('<mei xmlns="http://www.music-encoding.org/ns/mei"')
