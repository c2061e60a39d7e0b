"""Little scores with figures and symbols."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest
from lxml import etree

from appui.exact import Fraction, fraction_of
from appui.harmony.kinds import parse_symbol
from appui.musicxml.read.score import score_of
from appui.score.figured_bass import parse_figures
from appui.score.model import FiguredBass, Score
from appui.score.pitch import parse_pitch
from tests.there import there

_DIVISIONS = 24


def _note(word: str) -> str:
    """``G5:2`` a half note; ``C3+E3:1`` a chord; ``r:1`` a rest."""
    body, _, length = word.partition(":")
    duration = f"<duration>{fraction_of(str(length)) * _DIVISIONS}</duration><voice>1</voice>"
    out = ""
    for place, name in enumerate(body.split("+")):
        pitch = None if name == "r" else parse_pitch(name)
        head = "<chord/>" if place else ""
        sound = (
            f"<pitch><step>{pitch.step}</step><alter>{pitch.alter}</alter><octave>{pitch.octave}</octave></pitch>"
            if pitch
            else "<rest/>"
        )
        out += f"<note>{head}{sound}{duration}</note>"
    return out


def page(
    parts: Mapping[str, str], *, time: str = "4/4", fifths: int = 0, chromatic: tuple[int, int] | None = None
) -> Score:
    """A score of parts written as words, bars apart by ``|``; `chromatic` transposes the first part."""
    beats, beat_type = time.split("/")
    names, music = "", ""
    for index, (name, text) in enumerate(parts.items()):
        move = (
            f"<transpose><diatonic>{chromatic[0]}</diatonic><chromatic>{chromatic[1]}</chromatic></transpose>"
            if chromatic and index == 0
            else ""
        )
        head = (
            f"<attributes><divisions>{_DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>"
            f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time>{move}</attributes>"
        )
        names += f"<score-part id='P{index}'><part-name>{name}</part-name></score-part>"
        bars = ["".join(_note(word) for word in bar.split()) for bar in text.split("|")]
        bars[0] = head + bars[0]
        music += f"<part id='P{index}'>"
        music += "".join(f"<measure number='{n}'>{bar}</measure>" for n, bar in enumerate(bars, 1)) + "</part>"
    text = f"<score-partwise><part-list>{names}</part-list>{music}</score-partwise>"
    return score_of(etree.fromstring(text), "page.musicxml")


def figured(bass: str, rows: str, *, solo: str = "", time: str = "4/4", fifths: int = 0) -> Score:
    """A flute over a bass with a word of figures a note; ``.`` none, ``4>3`` two in turn."""
    score = page(
        {"Flute": solo or bass.replace("2:", "5:").replace("3:", "5:"), "Basso": bass}, time=time, fifths=fifths
    )
    part = score.parts[1]
    found: list[FiguredBass] = []
    events = [event for event in part.voices[0].events if event.notes]
    for event, word in zip(events, rows.split(), strict=True):
        if word != ".":
            each = word.split(">")
            length_q = event.duration_q / len(each)
            found += [FiguredBass(event.onset_q, length_q, parse_figures(row)) for row in each]
    return replace(score, parts=(score.parts[0], replace(part, figures=tuple(found))))


def symbolled(score: Score, entries: Sequence[tuple[int | Fraction, str]]) -> Score:
    """The score with chord symbols in its first part, given by onset."""
    symbols = tuple(there(parse_symbol(text, fraction_of(str(onset)))) for onset, text in entries)
    return replace(score, parts=(replace(score.parts[0], chord_symbols=symbols), *score.parts[1:]))


@pytest.fixture(scope="session", name="page")
def _page():
    """The function `page`."""
    return page


@pytest.fixture(scope="session", name="figured")
def _figured():
    """The function `figured`."""
    return figured


@pytest.fixture(scope="session", name="symbolled")
def _symbolled():
    """The function `symbolled`."""
    return symbolled
