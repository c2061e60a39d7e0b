"""The short Andante with two bare fermatas: made by its maker, clean, valid, and embellished where it should be."""

from io import BytesIO

from lxml import etree

from appui.demo import bare_andante
from appui.demo.compose import score_bytes
from appui.demo.counterpoint import faults
from appui.demo.music import read_music
from appui.embellish.model import Wish
from appui.embellish.places import find_places
from appui.interpret.interpretation import interpret

MUSIC = bare_andante().with_suffix(".toml")


def test_the_score_is_what_its_maker_makes():
    """The file in the package is made from the data beside it, byte for byte."""
    assert bare_andante().read_bytes() == score_bytes(read_music(MUSIC))


def test_the_writing_is_clean():
    """No parallels, no note out of range."""
    assert [] == faults(read_music(MUSIC))


def test_the_score_is_valid_musicxml(schema):
    """MusicXML 3.1, musicxml.xsd (as shipped in partitura)."""
    schema.assertValid(etree.parse(BytesIO(bare_andante().read_bytes())))


def test_its_fermatas_ask_for_a_lead_in_and_a_cadenza():
    """The half close before the theme returns, and the six-four; the note to be trilled belongs to the cadenza."""
    places, _ = find_places(interpret(bare_andante()), Wish())
    held = [(each.place, each.kind) for each in places if each.span.held]
    assert [("flute.4.1", "lead-in"), ("flute.8.1", "cadenza")] == held
    assert "flute.9.1" not in [each.place for each in places]
