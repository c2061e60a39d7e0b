"""What MIDI has no key for is told."""

from appui.perform.pitches import pitches_without_key
from tests.written import bar, note, part, score


def said(*bars: tuple[str, str]) -> list[str]:
    """The words of the notices."""
    music = score(part(*bars))
    return [words for _, words in pitches_without_key(music, music.parts[0])]


def test_semitones_need_no_word() -> None:
    """Every key has one."""
    assert [] == said(bar(note("C#5", 8), note("Bb4", 8)))


def test_quarter_tones_are_told_with_their_bars() -> None:
    """Four bars are named, the others counted."""
    quarter = note("C5", 16).replace("</step>", "</step><alter>0.5</alter>")
    assert ["quarter tones (bar 2) are played as the nearest semitone"] == said(bar(note("C5", 16)), bar(quarter))
    assert ["quarter tones (bars 1, 2, 3, 4 and 2 more) are played as the nearest semitone"] == said(
        *[bar(quarter)] * 6
    )


def test_what_lies_beyond_the_keys_is_told() -> None:
    """A tenth octave has none."""
    (words,) = said(bar(note("C5", 8), note("C10", 8)))
    assert "beyond MIDI's keys (bar 1)" in words
