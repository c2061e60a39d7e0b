"""Which part is the solo: the player's word, or a stated guess.

The guess: a part on one staff; winds and voices before strings before keyboards; of one instrument's players the first;
the part with the most signs among equals, then the earliest. Instruments are known by their names in the common
languages of editions.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from appui.errors import PlaceError
from appui.score.model import Part, Score
from appui.score.signs import Sign, part_slugs, slug

__all__ = ["FAMILIES", "Guess", "family_of", "find_part", "guess", "guess_solo"]

# names as they begin or appear in part names and MusicXML sound ids, most telling first
FAMILIES: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "keyboard",
        (
            "keyboard",
            "piano",
            "klavier",
            "clavier",
            "cembalo",
            "harpsichord",
            "organ",
            "orgel",
            "continuo",
            "celesta",
            "harp",
            "arpa",
            "guitar",
            " lute",  # at the start of a word: a flute is none
            ".lute",
            "pluck",
        ),
    ),
    (
        "wind",
        (
            "oboe",
            "hautb",
            "flute",
            "flauto",
            "flöte",
            "traverso",
            "clarin",
            "klarin",
            "bassoon",
            "fagot",
            "recorder",
            "blockfl",
            "piccolo",
            "cor anglais",
            "english horn",
            "wind",
            "brass",
            "horn",
            "corno",
            "trumpet",
            "tromba",
            "trompet",
            "trombon",
            "basset",
            "chalumeau",
            "saxo",
        ),
    ),
    (
        "voice",
        (
            "voice",
            "soprano",
            "alto",
            "tenor",
            "bass voice",
            "canto",
            "chant",
            "gesang",
            "singstimme",
            "sopran",
            "mezzo",
            "baritone",
            "bariton",
            "vocal",
            "voix",
            "voce",
            "stimme",
            "quinto",
            "basso",
        ),
    ),
    ("strings", ("violin", "viola", "cello", "contrabass", "string", "bratsche", "geige", "viol", "bass")),
)
_RANK = {"wind": 0, "voice": 0, "strings": 1, "": 2, "keyboard": 3}
_FAMILY_WORDS = ("wind instrument or voice", "string instrument", "part of no known kind", "keyboard")
#  what numbers the players of one instrument, in a part's name as it is typed
_NUMERAL = re.compile(
    r"(?:^|(?<=-))(?:i{1,3}|iv|\d+(?:st|nd|rd|th|er|e)?|first|second|third|prim[oa]|second[oa]|ter[zc][oa])(?:-|$)"
)


def family_of(part: Part) -> str:
    """``wind``, ``voice``, ``strings``, ``keyboard`` or empty, by name, then sound id, then MIDI program."""
    for words in (part.name.lower(), part.instrument.lower()):
        for family, names in FAMILIES:
            if any(name in f" {words}" for name in names):
                return family
    return _by_program(part.program)


def _by_program(program: int | None) -> str:
    # General MIDI (read): 1-8 piano, 17-24 organ, 41-52 strings, 53-55 voices, 57-80 brass, reeds and pipes
    if program is None:
        return ""
    ranges = (("keyboard", range(24)), ("strings", range(40, 52)), ("voice", range(52, 55)), ("wind", range(56, 80)))
    return next((family for family, span in ranges if program in span), "")


class Guess(NamedTuple):
    """The part taken for the solo, why, and the one that comes next (`None`: there is no other)."""

    part: Part
    why: str
    second: Part | None

    @property
    def open(self) -> bool:
        """Whether the next would do as well: it is of the same kind."""
        return self.second is not None and _rank(self.part) == _rank(self.second)

    @property
    def words(self) -> str:
        """As it is told."""
        return f"{self.part.name}, {self.why}" + (f"; else {self.second.name}" if self.second is not None else "")


def guess_solo(score: Score, signs: Sequence[Sign]) -> Part:
    """The part taken for the solo when the player names none."""
    return guess(score, signs).part


def guess(score: Score, signs: Sequence[Sign]) -> Guess:
    """The part taken for the solo when the player names none, with the reason."""
    count = Counter(sign.part for sign in signs)
    playing = [p for p in score.parts if any(not e.is_rest for v in p.voices for e in v.events)] or list(score.parts)
    firsts = _firsts(playing)

    def order(part: Part, *, as_first: bool) -> tuple[float, ...]:
        behind = as_first and part.index not in firsts
        return _rank(part), part.staves > 1, part.percussion, behind, -count[part.index], part.index

    first = min(playing, key=lambda part: order(part, as_first=True))
    others = [part for part in playing if part is not first]
    second = min(others, key=lambda part: order(part, as_first=False)) if others else None
    return Guess(first, _why(first, second, playing, count), second)


def _rank(part: Part) -> int:
    return _RANK[family_of(part)]


def _instrument(part: Part) -> str:
    """Its name without the number of its player."""
    return _NUMERAL.sub("", slug(part.name)).strip("-")


def _firsts(parts: Sequence[Part]) -> frozenset[int]:
    """The parts, by index, that are the first of their instrument: a second violin is no solo."""
    found: dict[str, int] = {}
    for part in parts:
        found.setdefault(_instrument(part), part.index)
    return frozenset(found.values())


def _why(first: Part, second: Part | None, playing: Sequence[Part], count: Counter[int]) -> str:
    if second is None:
        return "the only part that plays"
    name = _FAMILY_WORDS[_rank(first)]
    if _rank(second) != _rank(first):
        return f"the only {name}"
    if _instrument(first) == _instrument(second):
        return "the first of its instrument"
    if count[first.index] > count[second.index]:
        return f"of the parts for a {name} the one with most ornaments ({count[first.index]})"
    return f"the first part for a {name}" if len(playing) > 1 else f"the {name}"


def find_part(score: Score, wanted: str) -> Part:
    """The part a player names: by number from 1, by id, by name, or by the beginning of its name.

    Raises `PlaceError` listing the parts where none or several fit.
    """
    if wanted.isdigit() and 1 <= int(wanted) <= len(score.parts):
        return score.parts[int(wanted) - 1]
    names = part_slugs(score)
    key = slug(wanted)
    exact = [p for p in score.parts if wanted in (p.id, p.name) or names[p.index] == key]
    near = exact or [p for p in score.parts if key and names[p.index].startswith(key)]
    if len(near) >= 1 and (len(near) == 1 or exact):
        return near[0]
    listed = ", ".join(f"{p.index + 1} {p.name}" for p in score.parts)
    problem = f"has no part {wanted!r}" if not near else f"has several parts that begin with {wanted!r}"
    raise PlaceError(score.file, f"{problem}; its parts are {listed}", "name one of them or give its number")
