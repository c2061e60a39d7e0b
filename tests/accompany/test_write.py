"""The accompaniment as MusicXML: valid, and the same notes when it is read."""

from dataclasses import replace
from io import BytesIO

import pytest
from lxml import etree

from appui.accompany.add import accompanied
from appui.accompany.patterns import PATTERNS
from appui.accompany.write import accompaniment_xml
from appui.errors import PlaceError
from appui.exact import Fraction
from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.score.model import Ending, Jump
from appui.score.repeats import unfold


def again(score):
    """The accompaniment written and read."""
    return score_of(parse_text(accompaniment_xml(score), "back.musicxml").root, "back.musicxml")


def content(part):
    """Voices as onset, length, pitches, ties, value."""
    return [
        [
            (
                e.onset_q,
                e.duration_q,
                {(n.sounding, n.tied_on, n.tied_back) for n in e.notes},
                e.type_name,
                e.dots,
                e.tuplet,
            )
            for e in voice.events
        ]
        for voice in part.voices
    ]


@pytest.fixture(name="made", params=[*PATTERNS, "figured"])
def _made(request, page, symbolled, figured):
    """A score with its accompaniment, in each way it can come about."""
    if request.param == "figured":
        return accompanied(figured("C3:3/2 D3:1/2 E3:2 | G2:3 C3:1 | F#3:4", ". . 6 4>3 . b7/5", fifths=-3))
    tune = page({"Clarinet": "C5:3 | A4:1 B4:2 | C5:1/3 D5:2/3 E5:2"}, time="3/4", fifths=2)
    chords = [(0, "C"), (Fraction(4), "G7/B"), (Fraction(19, 3), "Bbm7b5")]
    return accompanied(symbolled(tune, chords), pattern=request.param)


def test_it_is_valid_musicxml(made, schema) -> None:
    """MusicXML 3.1, musicxml.xsd (as shipped in partitura): nothing in the file is newer."""
    schema.assertValid(etree.parse(BytesIO(accompaniment_xml(made))))


def test_our_reader_reads_the_same_notes(made) -> None:
    """Onsets, lengths, pitches, ties and printed values come back as they were, and so do keys, symbols and figures."""
    back = again(made)
    assert content(made.parts[-1]) == content(back.parts[0])
    assert made.parts[-1].keys == back.parts[0].keys
    assert made.parts[-1].figures == back.parts[0].figures
    assert [s._replace(text="") for s in made.parts[-1].chord_symbols] == [
        s._replace(text="") for s in back.parts[0].chord_symbols
    ]
    assert (made.parts[-1].name, made.parts[-1].program) == (back.parts[0].name, back.parts[0].program)


def test_the_same_score_gives_the_same_bytes(made) -> None:
    """Nothing depends on the moment."""
    assert accompaniment_xml(made) == accompaniment_xml(made)


def test_music21_hears_the_same_pitches(made) -> None:
    """Another reader counts the same sounding notes."""
    from music21 import converter

    heard = [
        pitch.nameWithOctave.replace("-", "b")
        for note in converter.parseData(accompaniment_xml(made).decode()).recurse().notes
        if "ChordSymbol" not in note.classes and "NoChord" not in note.classes
        for pitch in note.pitches
    ]
    own = [n.sounding.name for voice in made.parts[-1].voices for e in voice.events for n in e.notes]
    assert sorted(own) == sorted(heard)


def test_repeats_and_endings_go_along(page, symbolled) -> None:
    """The bars are played in the order of the score."""
    score = symbolled(page({"Oboe": "C5:4 | D5:4 | E5:4 | C5:4"}), [(0, "C")])
    bars = list(score.bars)
    bars[1] = replace(bars[1], endings=(Ending((1,)),), repeat_backward=2)
    bars[2] = replace(bars[2], endings=(Ending((2,)),))
    back = again(accompanied(replace(score, bars=tuple(bars))))
    found = [(bar.endings, bar.repeat_backward, bar.number) for bar in back.bars]
    assert [(bar.endings, bar.repeat_backward, bar.number) for bar in bars] == found


def test_leaps_go_along(page, symbolled, schema) -> None:
    """Dal segno with segno, coda and their leap, or da capo with its Fine: played in the order of the score."""
    plain = symbolled(page({"Oboe": "C5:4 | D5:4 | E5:4 | C5:4"}), [(0, "C")])
    roads = (
        {0: (Jump("segno", "s"),), 1: (Jump("tocoda", "c"),), 2: (Jump("dalsegno", "s"),), 3: (Jump("coda", "c"),)},
        {1: (Jump("fine"),), 3: (Jump("dacapo"),)},
    )
    for marks in roads:
        bars = tuple(replace(bar, jumps=marks.get(bar.index, ())) for bar in plain.bars)
        score = accompanied(replace(plain, bars=bars))
        assert unfold(score.bars) == unfold(again(score).bars)
        assert [one.bar for one in unfold(score.bars)] != [bar.index for bar in bars]
        schema.assertValid(etree.parse(BytesIO(accompaniment_xml(score))))


def test_without_an_accompaniment_there_is_nothing_to_write(page) -> None:
    """The message says what would give one."""
    with pytest.raises(PlaceError, match=r"has no added accompaniment to write.*or a chart"):
        accompaniment_xml(page({"Oboe": "C5:4"}))
