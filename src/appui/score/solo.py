"""Which part is the solo: the player's word, or a stated guess.

The guess: a part on one staff; winds and voices before strings before keyboards; the part with the most signs among
equals, then the earliest. Instruments are known by their names in the common languages of editions.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from appui.errors import PlaceError
from appui.score.model import Part, Score
from appui.score.signs import Sign, part_slugs, slug

__all__ = ["FAMILIES", "family_of", "find_part", "guess_solo"]

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


def guess_solo(score: Score, signs: Sequence[Sign]) -> Part:
    """The part taken for the solo when the player names none."""
    count = Counter(sign.part for sign in signs)
    playing = [p for p in score.parts if any(not e.is_rest for v in p.voices for e in v.events)] or list(score.parts)
    return min(playing, key=lambda p: (_RANK[family_of(p)], p.staves > 1, p.percussion, -count[p.index], p.index))


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
