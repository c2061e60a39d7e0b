"""The verdict in one clause a player reads: what sounds, the position, the interval over the bass, where it goes."""

from __future__ import annotations

from typing import NamedTuple

from appui.harmony.model import MEMBER, Verdict
from appui.harmony.spelling import interval_word
from appui.score.pitch import Pitch
from appui.score.signs import Sign

__all__ = ["Around", "clause", "steps_on"]


class Around(NamedTuple):
    """What the words need beside the verdict.

    `bass` the sounding bass, `None` where none is known; `target` what follows the last small note (the main note, or
    after an after-note the next note), `None` for nothing; `position` the chord's position in words; `why` says where
    the chord is taken from if not from what sounds with the main note; `decided` what decided, where the line did.
    """

    bass: Pitch | None
    target: Pitch | None
    position: str
    why: str = ""
    decided: str = ""


def steps_on(sign: Sign, index: int, target: Pitch | None) -> bool:
    """Whether a small note goes on by step, or by a chromatic step on the same letter."""
    small, following = sign.small[index].sounding[0], _following(sign, index, target)
    if following is None:
        return False
    return abs(small.diatonic - following.diatonic) <= 1 and 0 < abs(float(small.midi - following.midi)) <= 3


def _following(sign: Sign, index: int, target: Pitch | None) -> Pitch | None:
    return sign.small[index + 1].sounding[0] if index + 1 < len(sign.small) else target


def clause(verdict: Verdict, sign: Sign, around: Around) -> str:
    """The words for a sign: its first small note, or without small notes the chord."""
    if not sign.small:
        return f"{verdict.label} ({verdict.roman})" if verdict.roman else verdict.label
    member = verdict.members[0] == MEMBER
    where = ", ".join(filter(None, (" ".join(map(_pretty, verdict.pitches)), _pretty(around.position), around.why)))
    what = _belonging(verdict) if member else _going(sign, around)
    verb, end = ("belongs to", "") if member else ("against", ": dissonance")
    if member and verdict.leans[0]:
        verb = "over"
    told = ", ".join(filter(None, (_above(sign, around), what))) + end
    said = f"{_named(sign)} {verb} {where}" + (f": {told}" if told else "")
    return "; ".join(filter(None, (said, around.decided, _apart(verdict, sign))))


def _apart(verdict: Verdict, sign: Sign) -> str:
    """Which of the first small notes, struck together, belong to the chord, where not all do alike."""
    struck = verdict.struck[0] if verdict.struck else ()
    if len(set(struck)) < 2:
        return ""
    inside = [pitch.pretty for pitch, member in zip(sign.small[0].sounding, struck, strict=True) if member == MEMBER]
    return f"of them {' '.join(inside)} belong{'s' if len(inside) == 1 else ''} to the chord"


def _named(sign: Sign) -> str:
    small = sign.small[0]
    heard = "+".join(pitch.pretty for pitch in small.sounding)
    written = "+".join(pitch.pretty for pitch in small.written)
    return heard if heard == written else f"{heard} (written {written})"


def _pretty(letters: str) -> str:
    # only a flat or sharp after a note's letter; words keep their b
    return "".join(
        {"b": "♭", "#": "♯"}.get(sign, sign) if place and letters[place - 1] in "ABCDEFGb#♭♯" else sign
        for place, sign in enumerate(letters)
    )


def _above(sign: Sign, around: Around) -> str:
    small = sign.small[0].sounding[0]
    if around.bass is None or around.bass.midi >= small.midi:
        return ""
    return f"{interval_word(small, around.bass)} above the bass"


def _belonging(verdict: Verdict) -> str:
    return "one of the two notes that lean in a cadential six-four" if verdict.leans[0] else ""


def _going(sign: Sign, around: Around) -> str:
    small, following = sign.small[0].sounding[0], _following(sign, 0, around.target)
    if following is None:
        return "with no note after it"
    if small.midi == following.midi:
        return "repeated"
    way = "down" if small.midi > following.midi else "up"
    return f"{'steps' if steps_on(sign, 0, around.target) else 'leaps'} {way} to {_pretty(following.letter)}"
