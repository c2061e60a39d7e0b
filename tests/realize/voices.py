"""Small scores for tests: one voice, eight divisions a quarter note, written note by note."""

import re

from lxml import etree

from appui.musicxml.read.score import score_of
from appui.score.model import Score
from tests.there import there


def pitch(name: str) -> str:
    """A pitch such as ``Bb4`` as MusicXML."""
    step, sign, octave = there(re.fullmatch(r"([A-G])([#b]?)(\d)", name)).groups()
    alter = f"<alter>{ {'#': 1, 'b': -1}[sign] }</alter>" if sign else ""
    return f"<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>"


def note(name: str, length: int, inside: str = "", *, attributes: str = "", chord: bool = False) -> str:
    """A note of so many divisions; `R` is a rest; `inside` goes into its notations, or is a tie."""
    what = "<rest/>" if name == "R" else pitch(name)
    return (
        f"<note {attributes}>{'<chord/>' if chord else ''}{what}<duration>{length}</duration>"
        f"{inside if inside.startswith('<tie ') else ''}<voice>1</voice>"
        f"{'' if inside.startswith('<tie ') else f'<notations>{inside}</notations>'}</note>"
    )


def small(name: str, attributes: str = "") -> str:
    """A small eighth note."""
    return f"<note><grace {attributes}/>{pitch(name)}<voice>1</voice><type>eighth</type></note>"


def ornament(sign: str) -> str:
    """A sign over a note."""
    return f"<ornaments>{sign}</ornaments>"


TRILL = ornament("<trill-mark/>")


def score(*bars: str, fifths: int = 0, qpm: int = 60, meter: str = "4/4") -> Score:
    """One oboe part with these bars."""
    beats, beat_type = meter.split("/")
    head = (
        f"<attributes><divisions>8</divisions><key><fifths>{fifths}</fifths></key>"
        f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time></attributes><sound tempo='{qpm}'/>"
    )
    inside = "".join(
        f"<measure number='{number}'>{head if number == 1 else ''}{bar}</measure>" for number, bar in enumerate(bars, 1)
    )
    text = (
        "<score-partwise><part-list><score-part id='P'><part-name>Oboe</part-name></score-part></part-list>"
        f"<part id='P'>{inside}</part></score-partwise>"
    )
    return score_of(etree.fromstring(text), "x")
