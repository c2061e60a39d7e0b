"""The two pieces without an accompaniment: made by their maker, clean, valid, and playable with what is added."""

from io import BytesIO

import pytest
from lxml import etree

from appui.accompany.add import accompanied
from appui.accompany.continuo import continuo_chords
from appui.accompany.symbols import symbol_chords
from appui.accompany.voicing import faults as voicing_faults
from appui.accompany.voicing import voice_chords
from appui.demo import compose, figured_sonata, lead_sheet
from appui.demo.compose import score_bytes
from appui.demo.counterpoint import faults
from appui.demo.music import read_music
from appui.harmony.analyse import analyse
from appui.harmony.model import DISSONANCE, MEMBER
from appui.harmony.verdicts import verdict_of
from appui.musicxml.read.score import read_score
from appui.score.signs import find_signs

PIECES = (figured_sonata(), lead_sheet())


@pytest.fixture(name="piece", params=PIECES, ids=lambda path: path.stem)
def _piece(request):
    """Each of the two."""
    return request.param


def test_the_score_is_what_its_maker_makes(piece) -> None:
    """The file in the package is made from the data beside it, byte for byte."""
    assert piece.read_bytes() == score_bytes(read_music(piece.with_suffix(".toml")))


def test_the_writing_is_clean(piece) -> None:
    """No parallels between melody and bass, no note out of range."""
    assert [] == faults(read_music(piece.with_suffix(".toml")))


def test_the_score_is_valid_musicxml(piece, schema) -> None:
    """MusicXML 3.1, musicxml.xsd (as shipped in partitura)."""
    schema.assertValid(etree.parse(BytesIO(piece.read_bytes())))


def test_there_is_something_to_prepare(piece) -> None:
    """16 to 24 bars with small notes and trills."""
    score = read_score(piece)
    kinds = [sign.kind for sign in find_signs(score)]
    assert 16 <= len(score.bars) <= 24
    assert kinds.count("small notes") >= 8
    assert kinds.count("trill") >= 2


def test_it_gets_an_accompaniment_without_faults(piece) -> None:
    """One part more, four voices at every chord, no rule of voice leading broken."""
    score = read_score(piece)
    made = accompanied(score)
    chords = (
        continuo_chords(score, score.parts[1], analyse(score).keys)[0]
        if len(score.parts) > 1
        else symbol_chords(score, score.parts[0].chord_symbols)
    )
    assert len(score.parts) + 1 == len(made.parts)
    assert {0, 3} >= {len(event.notes) for event in made.parts[-1].voices[0].events}
    assert [] == list(voicing_faults(chords, voice_chords(chords)))


def test_the_harmony_on_the_page_decides() -> None:
    """In the song B flat over C7 belongs (bar 2), D over F over A leans (bar 6): read from the symbols by hand."""
    harmony = analyse(accompanied(read_score(lead_sheet())))
    by_place = {sign.place: sign for sign in find_signs(harmony.score)}
    assert (MEMBER,) == verdict_of(harmony, by_place["clarinet.2.1"]).members
    assert (DISSONANCE,) == verdict_of(harmony, by_place["clarinet.6.1"]).members


def test_a_wrong_symbol_is_refused() -> None:
    """The maker names what it cannot read."""
    with pytest.raises(ValueError, match="'Q7' is no chord symbol"):
        compose._chord("Q7")
