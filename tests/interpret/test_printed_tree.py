"""The tree that is written and engraved."""

from appui.interpret.interpretation import interpret
from appui.interpret.printed import printed_tree
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
