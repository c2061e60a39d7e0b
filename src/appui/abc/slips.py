"""Signs that stand in a line of ABC by mistake, and what was meant: for the errors a player meets who types a solo."""

from __future__ import annotations

__all__ = ["is_slip", "meant"]

_NOTES = "notes are the letters A to G and a to g"
_BEFORE = "accidentals stand before their note: ^f is F sharp, _b is B flat, =c is C natural"
_LENGTH = "a length stands after its note: c2 is twice as long as c, c/2 half as long"
_USUAL = 'write it as !p!, or as text in quotes: "^dolce"'
_SLIPS: dict[str, str] = {
    "h": f"{_NOTES}; German H is B, German B is _B",
    "#": _BEFORE,
    "♯": _BEFORE,
    "♭": _BEFORE,
    "♮": _BEFORE,
    "t": "a trill is T before its note",
    "r": "a rest is z, with its length after it",
    "R": "a rest is z, with its length after it",
    "'": "marks of the octave stand right after the letter, before its length: c'2",
    ",": "marks of the octave stand right after the letter, before its length: C,2",
    "/": _LENGTH,
    "-": "a tie stands after its note: c2-c",
    ">": "it stands between two notes, the first dotted: c>d",
    "<": "it stands between two notes, the second dotted: c<d",
    "}": "it closes small notes that { has not opened",
    ")": "it closes a slur that ( has not opened",
    "]": "it closes a chord that [ has not opened",
    "^": "an accidental stands before a letter: ^f",
    "_": "an accidental stands before a letter: _b",
    "=": "an accidental stands before a letter: =c",
    "p": _USUAL,
    "m": _USUAL,
    "\u201c": 'write plain quotes: "G7"',
    "\u201d": 'write plain quotes: "G7"',
    "\u201e": 'write plain quotes: "G7"',
    "\u2013": "write a plain hyphen for a tie: c2-c",
    "\u2019": "write a plain apostrophe for the octave: c'",
}


def is_slip(sign: str) -> bool:
    """Whether a sign is one that is often typed for another."""
    return sign in _SLIPS


def meant(sign: str) -> str:
    """What was meant by a sign that is none here, as a remedy."""
    if sign.isdigit():
        return _LENGTH + "; an ending is [1"
    return _SLIPS.get(sign) or (f"{_NOTES}; take it out" if sign.isalpha() else "take it out")
