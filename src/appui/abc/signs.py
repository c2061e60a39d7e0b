"""The decorations of ABC: ornaments, articulations, dynamics, road signs, by MusicXML's names.

Source: the ABC standard 2.1, section 4.14 (memory). `~`, a roll in dance music, is printed as a turn and read as one.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import NamedTuple

from appui.score.model import Ornament

__all__ = ["DECORATIONS", "LETTERS", "Decoration", "decoration", "nearest"]


class Decoration(NamedTuple):
    """What a decoration prints: one of these, the others empty. `left_out` are those that say nothing of the sound."""

    ornament: Ornament | None = None
    articulation: str = ""
    pause: str = ""
    fermata: str = ""
    dynamic: str = ""
    hairpin: str = ""
    jump: str = ""
    left_out: bool = False


def _ornament(kind: str, **attributes: str) -> Decoration:
    return Decoration(
        ornament=Ornament(kind, tuple(sorted((name.replace("_", "-"), text) for name, text in attributes.items())))
    )


_OPENS = {"crescendo(": "crescendo", "<(": "crescendo", "diminuendo(": "diminuendo", ">(": "diminuendo"}
_CLOSES = ("crescendo)", "<)", "diminuendo)", ">)")
_MARKS = "pppp ppp pp p mp mf f ff fff ffff sfz sf fz sffz rf rfz sfp fp".split()
_SILENT = (
    "open plus + snap thumb 0 1 2 3 4 5 upbow downbow editorial courtesy shortphrase mediumphrase longphrase".split()
)
_SILENT += "8va( 8va) 8vb( 8vb) 15ma( 15ma) 15mb( 15mb) ped ped-up xstem beamon nbsp trem1".split()

DECORATIONS: dict[str, Decoration] = {
    "trill": _ornament("trill-mark"),
    "trill(": _ornament("trill-mark"),
    "lowermordent": _ornament("mordent"),
    "mordent": _ornament("mordent"),
    "uppermordent": _ornament("inverted-mordent"),
    "pralltriller": _ornament("inverted-mordent"),
    "roll": _ornament("turn"),
    "turn": _ornament("turn"),
    "turnx": _ornament("turn", slash="yes"),
    "invertedturn": _ornament("inverted-turn"),
    "invertedturnx": _ornament("inverted-turn", slash="yes"),
    "arpeggio": _ornament("arpeggiate"),
    "slide": _ornament("schleifer"),
    "/": Decoration(ornament=Ornament("tremolo", (("type", "single"),), "1")),
    "//": Decoration(ornament=Ornament("tremolo", (("type", "single"),), "2")),
    "///": Decoration(ornament=Ornament("tremolo", (("type", "single"),), "3")),
    "fermata": Decoration(fermata="normal"),
    "invertedfermata": Decoration(fermata="normal"),
    "breath": Decoration(pause="breath-mark"),
    "caesura": Decoration(pause="caesura"),
    "staccato": Decoration(articulation="staccato"),
    "tenuto": Decoration(articulation="tenuto"),
    "wedge": Decoration(articulation="staccatissimo"),
    ">": Decoration(articulation="accent"),
    "accent": Decoration(articulation="accent"),
    "emphasis": Decoration(articulation="accent"),
    "marcato": Decoration(articulation="strong-accent"),
    "^": Decoration(articulation="strong-accent"),
    "segno": Decoration(jump="segno"),
    "coda": Decoration(jump="coda"),
    "dacoda": Decoration(jump="tocoda"),
    "d.s.": Decoration(jump="dalsegno"),
    "d.s.alcoda": Decoration(jump="dalsegno"),
    "d.s.alfine": Decoration(jump="dalsegno"),
    "d.c.": Decoration(jump="dacapo"),
    "d.c.alcoda": Decoration(jump="dacapo"),
    "d.c.alfine": Decoration(jump="dacapo"),
    "dacapo": Decoration(jump="dacapo"),
    "fine": Decoration(jump="fine"),
    "trill)": Decoration(left_out=True),
    **{name: Decoration(hairpin=kind) for name, kind in _OPENS.items()},
    **{name: Decoration(hairpin="stop") for name in _CLOSES},
    **{name: Decoration(dynamic=name) for name in _MARKS},
    **{name: Decoration(left_out=True) for name in _SILENT},
}

LETTERS: dict[str, str] = {
    ".": "staccato",
    "~": "roll",
    "H": "fermata",
    "L": "accent",
    "M": "lowermordent",
    "O": "coda",
    "P": "uppermordent",
    "S": "segno",
    "T": "trill",
    "u": "upbow",
    "v": "downbow",
}


def decoration(name: str) -> Decoration | None:
    """A decoration by its name between ``!``, in any case; `None` where there is none of that name."""
    return DECORATIONS.get(name.strip().lower())


def nearest(name: str) -> str:
    """The name of a decoration that is written almost so, or nothing."""
    return next(iter(get_close_matches(name.strip().lower(), DECORATIONS, 1, 0.7)), "")
