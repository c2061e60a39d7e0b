"""Little scores: a solo line with small notes over block chords, written as MusicXML text."""

from collections.abc import Sequence

import pytest
from lxml import etree

from appui.score.model import Score
from appui.score.pitch import parse_pitch
from appui.score.read import score_of

FLATS = "C Db D Eb E F Gb G Ab A Bb B".split()
SHARPS = "C C# D D# E F F# G G# A A# B".split()


def _pitch(name: str, shift: int) -> str:
    """A pitch moved up by semitones, with sharps where `shift` leads to a key of sharps."""
    octave, place = divmod(int(parse_pitch(name).midi) + shift % 100, 12)
    names = SHARPS if 100 <= shift < 200 or shift in (2, 4, 7, 9, 11) else FLATS
    pitch = parse_pitch(f"{names[place]}{octave - 1}")
    return f"<pitch><step>{pitch.step}</step><alter>{pitch.alter}</alter><octave>{pitch.octave}</octave></pitch>"


def _solo(notes: Sequence[str], shift: int) -> str:
    """``G5>F5`` is a small G5 before F5; every main note is a half note."""
    out = ""
    for place, word in enumerate(notes):
        small, _, main = word.rpartition(">")
        if small:
            out += f"<note><grace/>{_pitch(small, shift)}<voice>1</voice><type>eighth</type></note>"
        out += f"<note>{_pitch(main, shift)}<duration>2</duration><voice>1</voice><type>half</type></note>"
        if place % 2 and place < len(notes) - 1:
            out += "</measure><measure number='x'>"
    return out


def _chords(chords: Sequence[str], shift: int) -> str:
    out = ""
    for place, chord in enumerate(chords):
        for index, name in enumerate(chord.split()):
            mark = "<chord/>" if index else ""
            out += f"<note>{mark}{_pitch(name, shift)}<duration>2</duration><voice>1</voice><type>half</type></note>"
        if place % 2 and place < len(chords) - 1:
            out += "</measure><measure number='x'>"
    return out


@pytest.fixture(scope="session")
def little():
    """A function: solo words, chord words (empty: no accompaniment), semitones up, extra XML in the first solo bar.

    A hundred added to the semitones asks for sharps, two hundred for flats.
    """

    def make(solo: Sequence[str], chords: Sequence[str] = (), shift: int = 0, extra: str = "") -> Score:
        head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
        parts = [("P1", "Oboe", extra + _solo(solo, shift))]
        if chords:
            parts.append(("P2", "Piano", _chords(chords, shift)))
        names = "".join(f"<score-part id='{i}'><part-name>{n}</part-name></score-part>" for i, n, _ in parts)
        music = "".join(f"<part id='{i}'><measure number='1'>{head}{m}</measure></part>" for i, _, m in parts)
        text = f"<score-partwise><part-list>{names}</part-list>{music}</score-partwise>"
        return score_of(etree.fromstring(text), "x")

    return make
