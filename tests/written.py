"""MusicXML written in few words: `score(part(bar(note("C5", 4))))`. Durations are in divisions, four to a quarter."""

from __future__ import annotations

from appui.musicxml.read.score import score_of
from appui.musicxml.read.source import parse_text
from appui.score.model import Event, Score
from appui.score.pitch import parse_pitch

__all__ = ["backup", "bar", "direction", "events", "forward", "grace", "meter", "note", "part", "score", "text"]

CONTAINER = (
    '<container><rootfiles><rootfile full-path="{}" media-type="application/vnd.recordare.musicxml+xml"/>'
    "</rootfiles></container>"
)


def _pitch(name: str) -> str:
    if name == "rest":
        return "<rest/>"
    pitch = parse_pitch(name)
    alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
    return f"<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def note(name: str, duration: object, inside: str = "", *, voice: str = "1") -> str:
    """A note or, under the name ``rest``, a rest; `inside` is put after its voice."""
    return f"<note>{_pitch(name)}<duration>{duration}</duration><voice>{voice}</voice>{inside}</note>"


def grace(name: str, inside: str = "", *, voice: str = "1", hidden: bool = False) -> str:
    """A small note, an uncrossed eighth."""
    shown = ' print-object="no"' if hidden else ""
    return f"<note{shown}><grace/>{_pitch(name)}<voice>{voice}</voice><type>eighth</type>{inside}</note>"


def backup(duration: int) -> str:
    """The cursor goes back."""
    return f"<backup><duration>{duration}</duration></backup>"


def forward(duration: int) -> str:
    """The cursor goes on."""
    return f"<forward><duration>{duration}</duration></forward>"


def meter(beats: object, beat_type: object) -> str:
    """A time signature."""
    return f"<attributes><time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time></attributes>"


def direction(kind: str, after: str = "") -> str:
    """A direction; `after` follows its type, as `sound` does."""
    return f"<direction><direction-type>{kind}</direction-type>{after}</direction>"


def bar(*content: str, number: str | None = None, implicit: bool = False) -> tuple[str, str]:
    """A bar: its attributes and what it holds, a line each."""
    attributes = ("" if number is None else f' number="{number}"') + (' implicit="yes"' if implicit else "")
    return attributes, "\n".join(content)


def part(*bars: tuple[str, str], name: str = "Oboe", before: str = "") -> tuple[str, str]:
    """A part of four divisions; `before` joins the attributes of its first bar. Bars count from 1 unless numbered."""
    written = []
    for index, (attributes, content) in enumerate(bars):
        numbered = attributes if "number" in attributes else f' number="{index + 1}"{attributes}'
        head = f"<attributes><divisions>4</divisions>{before}</attributes>\n" if index == 0 else ""
        written.append(f"<measure{numbered}>\n{head}{content}\n</measure>")
    return name, "\n".join(written)


def text(*parts: tuple[str, str]) -> str:
    """The MusicXML text of the parts."""
    listed = "".join(
        f'<score-part id="P{i}"><part-name>{name}</part-name></score-part>' for i, (name, _) in enumerate(parts, 1)
    )
    written = "\n".join(f'<part id="P{i}">\n{bars}\n</part>' for i, (_, bars) in enumerate(parts, 1))
    return f'<score-partwise version="4.0"><part-list>{listed}</part-list>\n{written}\n</score-partwise>'


def score(*parts: tuple[str, str]) -> Score:
    """The parts as our reader gives them."""
    return score_of(parse_text(text(*parts).encode(), "page.musicxml").root, "page.musicxml")


def events(found: Score, part_index: int = 0) -> list[list[Event]]:
    """The events of a part, a list a voice."""
    return [list(voice.events) for voice in found.parts[part_index].voices]
