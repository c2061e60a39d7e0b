"""Little scores written as words: parts of bars of notes, small notes before them, moved to any key."""

from collections.abc import Mapping, Sequence

import pytest
from lxml import etree

from appui.exact import fraction_of
from appui.musicxml.read.score import score_of
from appui.score.model import Score
from appui.score.pitch import Pitch, Transposition, parse_pitch

_DIVISIONS = 24
# how far up each of the twelve keys lies from C: letter steps and semitones, so that spelling moves too
MAJOR_UP = ((0, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6), (4, 7), (5, 8), (5, 9), (6, 10), (6, 11))
MINOR_UP = ((0, 0), (0, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6), (4, 7), (4, 8), (5, 9), (6, 10), (6, 11))


def _pitch(pitch: Pitch) -> str:
    return f"<pitch><step>{pitch.step}</step><alter>{pitch.alter}</alter><octave>{pitch.octave}</octave></pitch>"


def _note(word: str, move: Transposition) -> str:
    """``G5>F5:2`` is a small G5 before a half note F5; ``C3+E3:1`` a chord; ``r:1`` a rest; ``F5~:1`` tied on."""
    body, _, length = word.partition(":")
    *small, main = body.split(">")
    out = "".join(
        f"<note><grace/>{_pitch(move.sounding(parse_pitch(name)))}<voice>1</voice><type>eighth</type></note>"
        for name in small
    )
    duration = f"<duration>{fraction_of(str(length)) * _DIVISIONS}</duration><voice>1</voice>"
    if main == "r":
        return out + f"<note><rest/>{duration}</note>"
    for place, name in enumerate(main.split("+")):
        pitch = move.sounding(parse_pitch(name.strip("~^")))
        tie = ("<tie type='stop'/>" if name.startswith("^") else "") + ("<tie type='start'/>" if "~" in name else "")
        chord = "<chord/>" if place else ""
        out += f"<note>{chord}{_pitch(pitch)}{duration.replace('<voice>', tie + '<voice>')}</note>"
    return out


def write(
    parts: Mapping[str, str], up: tuple[int, int] = (0, 0), time: str = "4/4", extra: Mapping[str, str] | None = None
) -> Score:
    """A score of parts written as words, bars apart by ``|``; `extra` is XML put before a part's first note."""
    beats, beat_type = time.split("/")
    head = (
        f"<attributes><divisions>{_DIVISIONS}</divisions>"
        f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time></attributes>"
    )
    names, music = "", ""
    for index, (name, text) in enumerate(parts.items()):
        names += f"<score-part id='P{index}'><part-name>{name}</part-name></score-part>"
        bars = ["".join(_note(word, Transposition(*up)) for word in bar.split()) for bar in text.split("|")]
        bars[0] = head + (extra or {}).get(name, "") + bars[0]
        music += f"<part id='P{index}'>"
        music += "".join(f"<measure number='{n}'>{bar}</measure>" for n, bar in enumerate(bars, 1)) + "</part>"
    text = f"<score-partwise><part-list>{names}</part-list>{music}</score-partwise>"
    return score_of(etree.fromstring(text), "x")


@pytest.fixture(scope="session")
def written():
    """The function `write`."""
    return write


@pytest.fixture(scope="session")
def major_up():
    """How far up each major key lies from C, in letter steps and semitones."""
    return MAJOR_UP


@pytest.fixture(scope="session")
def minor_up():
    """How far up each minor key lies from C minor, by way of C sharp, F sharp and G sharp minor."""
    return MINOR_UP


@pytest.fixture(scope="session")
def little():
    """A function: solo words and chord words, all half notes, two a bar (no chords: no accompaniment)."""

    def make(solo: Sequence[str], chords: Sequence[str] = (), up: tuple[int, int] = (0, 0), extra: str = "") -> Score:
        parts = {"Oboe": _bars([f"{word}:2" for word in solo])}
        if chords:
            parts["Piano"] = _bars([f"{chord.replace(' ', '+')}:2" for chord in chords])
        return write(parts, up, extra={"Oboe": extra})

    return make


def _bars(words: Sequence[str]) -> str:
    return " | ".join(" ".join(words[start : start + 2]) for start in range(0, len(words), 2))
