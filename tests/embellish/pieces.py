"""Small scores for these tests: an oboe (or another solo) and a bass of chords, written in words.

A word is a pitch, ``R`` for a rest or pitches joined by ``+``, then a length: ``w h q e s``, ``.`` for a dot, ``^`` for
a fermata, ``t`` for a trill: ``G5h^``, ``C3+E4+G4w``. Bars are divided by ``|``; ``|:`` and ``:|`` repeat.
"""

import re

from lxml import etree

from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import Interpretation, interpret, interpret_analysis
from appui.interpret.wishes import Wishes
from appui.musicxml.read.score import score_of
from appui.score.model import Score
from tests.there import there

DIVISIONS = 48
_LENGTHS = {"w": 192, "h": 96, "q": 48, "e": 24, "s": 12}
_WORD = re.compile(r"([A-GR#b\d+]+?)([whqes])(\.?)(\^?)(t?)")


def _pitch(name: str) -> str:
    if name == "R":
        return "<rest/>"
    step, sign, octave = there(re.fullmatch(r"([A-G])(##|bb|[#b]?)(\d)", name)).groups()
    alter = f"<alter>{sign.count('#') - sign.count('b')}</alter>" if sign else ""
    return f"<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>"


def _note(word: str) -> str:
    names, length, dot, fermata, trill = there(_WORD.fullmatch(word)).groups()
    duration = _LENGTHS[length] * 3 // 2 if dot else _LENGTHS[length]
    marks = ("<ornaments><trill-mark/></ornaments>" if trill else "") + ("<fermata/>" if fermata else "")
    return "".join(
        f"<note>{'<chord/>' if index else ''}{_pitch(name)}<duration>{duration}</duration><voice>1</voice>"
        f"<notations>{'' if index else marks}</notations></note>"
        for index, name in enumerate(names.split("+"))
    )


def _bars(words: str, head: str) -> str:
    out = []
    for number, bar in enumerate(words.strip().strip("|").split("|"), 1):
        begin = "<barline location='left'><repeat direction='forward'/></barline>" if bar.startswith(":") else ""
        end = "<barline location='right'><repeat direction='backward'/></barline>" if bar.endswith(":") else ""
        inside = "".join(_note(word) for word in bar.strip(":").split())
        out.append(f"<measure number='{number}'>{begin}{head if number == 1 else ''}{inside}{end}</measure>")
    return "".join(out)


def xml(
    solo: str, bass: str, *, fifths=0, mode="major", qpm=60, meter="4/4", name="Oboe", transpose="", words=""
) -> str:
    """A score as MusicXML text; `transpose` is (diatonic, chromatic) for the solo, which is written in its own key."""
    beats, beat_type = meter.split("/")

    def head(shift: str) -> str:
        return (
            f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths><mode>{mode}</mode></key>"
            f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time>{shift}</attributes>"
            f"<direction><direction-type><words>{words}</words></direction-type><sound tempo='{qpm}'/></direction>"
        )

    parts = [(name, _bars(solo, head(transpose)))]
    if bass:
        parts.append(("Violoncello", _bars(bass, head(""))))
    listed = "".join(
        f"<score-part id='P{i}'><part-name>{each}</part-name></score-part>" for i, (each, _) in enumerate(parts)
    )
    body = "".join(f"<part id='P{i}'>{bars}</part>" for i, (_, bars) in enumerate(parts))
    return f"<score-partwise><part-list>{listed}</part-list>{body}</score-partwise>"


def score(solo: str, bass: str, **options) -> Score:
    """A score of two parts."""
    return score_of(etree.fromstring(xml(solo, bass, **options)), "x", "0" * 64)


def interpretation(solo: str, bass: str, **options) -> Interpretation:
    """The score prepared, solo and all."""
    return interpret_analysis(Analysis(score(solo, bass, **options)), Wishes(solo="1"))


def planned(folder, lines: str, solo: str, bass: str, **options) -> Interpretation:
    """The score prepared with a plan that holds these lines of embellishments; raises what a wrong one raises."""
    path = folder / "piece.musicxml"
    path.write_text(xml(solo, bass, **options))
    from appui.musicxml.read.score import read_score

    sha = read_score(path).sha256
    plan = folder / "plan.toml"
    plan.write_text(f'[score]\nsha256 = "{sha}"\n\n[readings]\n\n[embellishments]\n{lines}\n')
    return interpret(path, Wishes(solo="1", plan=plan))
