"""What is said after an answer: what was heard, and what the harmony has to do with it."""

from __future__ import annotations

from appui.drill.answers import CATCH, LEAN_TIMES
from appui.drill.kinds import Kind
from appui.drill.phrase import Setting
from appui.harmony.spelling import interval_word
from appui.score.pitch import Pitch

__all__ = ["EQUAL", "explained"]

EQUAL = "The two were equal: no answer was right. Most people call the first of two equal notes the louder."


def explained(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    """One or two sentences on the right answer of a trial."""
    if answer == CATCH:
        return EQUAL
    return _WORDS[kind.name](kind, setting, level, answer)


def _lean_or_pass(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    small, main, size = setting.small.pretty, setting.main.pretty, kind.ladder.words(level)
    if answer == 0:
        met = f"{main} met {_chord(setting)}. {_belongs(setting, leant=False)}"
        return f"Before the beat: {small} came {size} early, and {met}"
    return f"On the beat: {small} met {_chord(setting)}, and {main} came {size} later. {_belongs(setting)}"


def _heavier(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    size, where = kind.ladder.words(level), kind.answers[answer]
    return f"It weighed {size} more {where}, against {setting.main.pretty}, its release. {_belongs(setting)}"


def _longer(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    size, where = kind.ladder.words(level), kind.answers[answer]
    return f"It was {size} longer {where}: {setting.main.pretty}, its release, came later there. {_belongs(setting)}"


def _member(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    return f"{kind.answers[answer].capitalize()}: {_belongs(setting)}"


def _which_reading(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    lasts = kind.ladder.words(level * (LEAN_TIMES if answer == 2 else 1))
    return f"{kind.answers[answer].capitalize()}, for {lasts}. {_belongs(setting, leant=answer == 2)}"


def _trill_start(kind: Kind, setting: Setting, level: float, answer: int) -> str:
    main = setting.main.pretty
    if answer == 0:
        return f"From above: the note over {main} came first, with {_chord(setting)}, and leaned on {main}."
    return f"From the main note: {main} came first, with {_chord(setting)}."


_WORDS = {
    "lean-or-pass": _lean_or_pass,
    "heavier": _heavier,
    "longer": _longer,
    "member-or-dissonance": _member,
    "which-reading": _which_reading,
    "trill-start": _trill_start,
}


def _chord(setting: Setting) -> str:
    letters = " ".join(_pretty(letter) for letter in setting.chord)
    return f"the chord {letters}" if letters else "the other parts"


def _pretty(letter: str) -> str:
    return letter[0] + letter[1:].replace("b", "♭").replace("#", "♯")


def _belongs(setting: Setting, *, leant: bool = True) -> str:
    """What the small note is in its chord; `leant` says that it was played so where it may."""
    small, member = setting.small, setting.phrase.member
    if member is None:
        return f"What {small.pretty} is in its chord is not sure." if setting.phrase.chord else ""
    above = _above(setting)
    if member:
        return f"{small.pretty} belongs to {_chord(setting)}{above}: it has nothing to lean on."
    gap = small.diatonic - setting.main.diatonic
    way = "down" if gap > 0 else "up"
    going = f"steps {way}" if abs(gap) == 1 else f"goes {way}"
    what = f"{small.pretty} is foreign to {_chord(setting)}{above}"
    leans = "leans and " if leant else "would lean where it is given time, and "
    return f"{what}: a dissonance, which {leans}{going} to {setting.main.pretty}."


def _above(setting: Setting) -> str:
    bass: Pitch | None = setting.bass
    return f", {interval_word(setting.small, bass)} above its bass" if bass else ""
