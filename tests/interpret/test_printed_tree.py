"""The tree that is written and engraved."""

from pathlib import Path

from appui.interpret.interpretation import interpret
from appui.interpret.printed import printed_tree
from appui.interpret.wishes import Wishes
from tests.written import backup, bar, note, part, text

BEAMS = ('<type>eighth</type><beam number="1">begin</beam>', '<type>eighth</type><beam number="1">end</beam>')


def _beamed(voice: str) -> str:
    return "".join(note("C5", 2, beam, voice=voice) for beam in BEAMS)


def test_hidden_voices_have_no_beams(tmp_path) -> None:
    """An engraver would draw the beams of notes that it hides; those of the others stay."""
    hidden = _beamed("2").replace("<note>", '<note print-object="no">')
    file = tmp_path / "score.musicxml"
    file.write_text(text(part(bar(_beamed("1"), note("C5", 12), backup(16), hidden, note("E4", 12, voice="2")))))
    player = interpret(file)
    notes = list(printed_tree(file, player.solo, player.wishes).iter("note"))
    # a note of their voice is seen, and so may their beams be
    assert [2, 2] == [sum(len(each.findall("beam")) for each in notes if each.findtext("voice") == v) for v in "12"]
    file.write_text(text(part(bar(_beamed("1"), note("C5", 12), backup(16), hidden, note("rest", 12, voice="2")))))
    notes = list(printed_tree(file, player.solo, player.wishes).iter("note"))
    assert [2, 0] == [sum(len(each.findall("beam")) for each in notes if each.findtext("voice") == v) for v in "12"]


def test_a_movement_written_for_another_instrument_sounds_as_it_did(tmp_path: Path) -> None:
    """The bars are the movement's, the solo is written a tone higher for a clarinet in B flat, and sounds alike."""
    heads = [
        f"<direction><direction-type><words>{name}</words></direction-type></direction>"
        for name in ("Allegro", "Adagio")
    ]
    bars = []
    for head, name in zip(heads, ("C5", "E5"), strict=True):
        bars += [bar(head, note(name, 16), number="1"), bar(note(name, 16), number="2")]
    file = tmp_path / "two.musicxml"
    file.write_text(text(part(*bars)), encoding="utf-8")
    alone, written = (interpret(file, Wishes(movement="2", transpose=key)) for key in (None, "Bb"))
    one, other = (each.solo.voices[0].events[0].notes[0] for each in (alone, written))
    assert 2 == len(written.score.bars)
    assert ("E5", "E5") == (one.written.name, one.sounding.name)
    assert ("F#5", "E5") == (other.written.name, other.sounding.name)
    assert alone.score.notices == written.score.notices
