"""The words that are names in this project: kinds of signs, roles of notes, names of readings, how a fact is known.

Each is a `Literal`, so that a type checker finds a slip; `one_of` finds it in words that come from a file or a caller.
"""

from __future__ import annotations

from typing import Literal, TypeVar, get_args

from appui.errors import UsageError

__all__ = ["Known", "Membership", "Placement", "Profile", "ReadingName", "Role", "SignKind", "one_of"]

#  what is printed: small notes before or after their note, MusicXML's ornaments by the trade's words; then a plan's
#  own embellishment, and a leaning note printed at full size
SignKind = Literal[
    "small notes",
    "after-notes",
    "trill",
    "shake",
    "wavy line",
    "short trill",
    "turn",
    "turn after",
    "inverted turn",
    "inverted turn after",
    "vertical turn",
    "inverted vertical turn",
    "haydn ornament",
    "mordent",
    "slide",
    "tremolo",
    "arpeggio",
    "no arpeggio",
    "fermata",
    "breath mark",
    "caesura",
    "other ornament",
    "embellishment",
    "written out",
]
#  one way to play a sign; `appui.style.reading.FAMILIES` says what each is
ReadingName = Literal[
    "plain",
    "leaning",
    "before",
    "termination",
    "short",
    "after",
    "trill",
    "turn",
    "mordent",
    "slide",
    "tremolo",
    "arpeggio",
    "hold",
    "pause",
    "embellished",
    "spelled out",
]
#  where a reading's notes fall against the beat of the main note
Placement = Literal["before", "on", "after"]
#  what a sounding note is: printed at full size, the main note of a sign, one of the sign's own, or none of the score's
Role = Literal[
    "plain",
    "main",
    "lean",
    "release",
    "before",
    "short",
    "after",
    "trill",
    "termination",
    "turn",
    "mordent",
    "slide",
    "tremolo",
    "free",
    "click",
    "drone",
]
#  how a leaning note swells: struck and falling, or soft, swelling, soft
Profile = Literal["loud-soft", "soft-swell-soft"]
#  what a small note is in its chord
Membership = Literal["chord member", "dissonance", "unknown"]
#  how a rule's source is known
Known = Literal["read", "memory", "common practice", "measured"]

Word = TypeVar("Word", bound=str)


def one_of(words: object, text: str, what: str) -> str:
    """The text, if it is one of a `Literal`'s words; raises `UsageError` naming them if it is not.

    >>> one_of(Placement, "before", "placement")
    'before'
    """
    if text not in get_args(words):
        raise UsageError(f"{what} {text!r} is not one of {', '.join(get_args(words))}")
    return text
