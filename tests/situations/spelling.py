"""Situations written in words: parts of bars of notes, as ``G5:1 /D5e>C5:2 | E5:4!tr``.

A note is pitch, colon, length in quarters: ``C5:2``; a chord ``C5+E5:2``, a rest ``r:1``. Small notes stand before a
``>``, a comma between them, each with its value (h q e s t) and a stroke before it where it has one; ``D5e+F5e`` is a
small chord. Behind the length: ``!tr``, ``!turn``, ``!mordent``; ``.`` staccato; ``_`` tied on; ``(`` and ``)`` slurs,
``)`` behind a small note ends one there; ``h`` hidden, ``c`` a cue. A ``&`` begins a second voice of the bar.
"""

import re
from fractions import Fraction
from typing import Any

from lxml import etree

from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import Interpretation, interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.score.pitch import parse_pitch
from appui.style.choose import Choice
from tests.there import there

DIVISIONS = 48
VALUES = {"h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd"}
_NOTE = re.compile(r"(?P<pitch>[^:]+):(?P<length>\d+(?:/\d+)?)(?P<marks>.*)")
_SMALL = re.compile(r"(?P<stroke>/?)(?P<pitches>.+?)(?P<stop>\)?)")


def _pitch(name: str) -> str:
    pitch = parse_pitch(name)
    return f"<pitch><step>{pitch.step}</step><alter>{pitch.alter}</alter><octave>{pitch.octave}</octave></pitch>"


def _small(word: str, voice: int) -> str:
    found = there(_SMALL.fullmatch(word))
    slash = ' slash="yes"' if found["stroke"] else ""
    slur = '<notations><slur type="stop" number="2"/></notations>' if found["stop"] else ""
    return "".join(
        f"<note><grace{slash}/>{'<chord/>' if place else ''}{_pitch(each[:-1])}<voice>{voice}</voice>"
        f"<type>{VALUES[each[-1]]}</type>{slur}</note>"
        for place, each in enumerate(found["pitches"].split("+"))
    )


def _notations(marks: str) -> str:
    signs = {"tr": "trill-mark", "turn": "turn", "mordent": "mordent"}
    ornament = next((tag for name, tag in signs.items() if f"!{name}" in marks), "")
    inside = f"<ornaments><{ornament}/></ornaments>" if ornament else ""
    inside += "<articulations><staccato/></articulations>" if "." in marks else ""
    inside += '<slur type="stop" number="2"/>' if ")" in marks else ""
    inside += '<slur type="start" number="2"/>' if "(" in marks else ""
    return f"<notations>{inside}</notations>" if inside else ""


def _word(word: str, voice: int) -> str:
    *small, body = word.split(">")
    out = "".join(_small(each, voice) for each in (small[0].split(",") if small else ()))
    found = there(_NOTE.fullmatch(body))
    marks = found["marks"]
    length = f"<duration>{Fraction(found['length']) * DIVISIONS}</duration>"
    hidden = ' print-object="no"' if "h" in marks.replace("mordent", "") else ""
    tie = '<tie type="start"/>' if "_" in marks else ""
    cue = "<cue/>" if "c" in marks else ""
    if found["pitch"] == "r":
        return f"{out}<note{hidden}><rest/>{length}<voice>{voice}</voice></note>"
    for place, name in enumerate(found["pitch"].split("+")):
        back = '<tie type="stop"/>' if name.startswith("^") else ""
        out += (
            f"<note{hidden}>{cue}{'<chord/>' if place else ''}{_pitch(name.strip('^'))}{length}{back}{tie}"
            f"<voice>{voice}</voice>{_notations(marks) if not place else ''}</note>"
        )
    return out


def _bar(text: str, quarters: Fraction) -> str:
    back = f"<backup><duration>{quarters * DIVISIONS}</duration></backup>"
    return back.join(
        "".join(_word(word, number) for word in voice.split()) for number, voice in enumerate(text.split("&"), 1)
    )


def situation(
    *parts: str, meter: str = "4/4", fifths: int = 0, qpm: int = 60, words: str = "", **wishes: Any
) -> Interpretation:
    """A flute (part 1) over the other parts, interpreted."""
    beats, beat_type = meter.split("/")
    names = ["Flute", "Oboe", "Violin"][: max(len(parts) - 1, 1)] + (["Bass"] if len(parts) > 1 else [])
    listed = music = ""
    for index, (name, text) in enumerate(zip(names, parts, strict=True)):
        listed += f"<score-part id='P{index}'><part-name>{name}</part-name></score-part>"
        head = (
            f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>"
            f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time></attributes>"
        )
        head += f"<direction><direction-type><words>{words}</words></direction-type><sound tempo='{qpm}'/></direction>"
        bars = [_bar(bar, Fraction(4 * int(beats), int(beat_type))) for bar in text.split("|")]
        music += f"<part id='P{index}'>" + "".join(
            f"<measure number='{number}'>{head if number == 1 else ''}{bar}</measure>"
            for number, bar in enumerate(bars, 1)
        )
        music += "</part>"
    text = f"<score-partwise><part-list>{listed}</part-list>{music}</score-partwise>"
    return interpret_analysis(Analysis(score_of(etree.fromstring(text), "x")), Wishes(solo="1", **wishes))


def choices(made: Interpretation, kind: str = "small notes", part: int = 0) -> list[Choice]:
    """The choices for the ornaments of a part, in order."""
    return [made.choices[sign.place] for sign in made.signs if sign.part == part and sign.kind == kind]


def played(made: Interpretation, kind: str, number: int = 0) -> list[str]:
    """The pitches of an ornament of the flute, as they sound."""
    from appui.interpret.realizing import realize

    place = [sign.place for sign in made.signs if sign.part == 0 and sign.kind == kind][number]
    tones = realize(made, made.order(repeats=False)).tones[0]
    return [tone.pitch.name for tone in tones if tone.sign == place]
