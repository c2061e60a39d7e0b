"""Ornaments of 1700-1830, judged by the harmony, played and heard.

    import appui

    piece = appui.open("concerto.musicxml", solo="oboe", style="bach-1753", tempo="60%")
    for sign in piece.signs:
        print(sign.place, sign.verdict, sign.choice, sign.why)
    take = piece.play(bars="5-12", readings={"oboe.7.1": "leaning 1/2"})
    take.save("out.mid", "out.flac")

Names are loaded when they are first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from appui.errors import AppuiError
    from appui.harmony.model import Verdict
    from appui.notations.read import read_score
    from appui.piece import Ornament, Piece, Take
    from appui.piece import open_piece as open
    from appui.realize.contract import Tone
    from appui.score.model import Score
    from appui.style.choose import Choice
    from appui.style.reading import Reading
    from appui.style.table import Style, load_style, style_names

__all__ = [
    "AppuiError",
    "Choice",
    "Ornament",
    "Piece",
    "Reading",
    "Score",
    "Style",
    "Take",
    "Tone",
    "Verdict",
    "__version__",
    "load_style",
    "open",
    "read_score",
    "style_names",
]

__version__ = "0.1.0"
#  public name -> the module and the name it stands there under
_HOMES = {
    "AppuiError": ("appui.errors", "AppuiError"),
    "Choice": ("appui.style.choose", "Choice"),
    "Ornament": ("appui.piece", "Ornament"),
    "Piece": ("appui.piece", "Piece"),
    "Reading": ("appui.style.reading", "Reading"),
    "Score": ("appui.score.model", "Score"),
    "Style": ("appui.style.table", "Style"),
    "Take": ("appui.piece", "Take"),
    "Tone": ("appui.realize.contract", "Tone"),
    "Verdict": ("appui.harmony.model", "Verdict"),
    "load_style": ("appui.style.table", "load_style"),
    "open": ("appui.piece", "open_piece"),
    "read_score": ("appui.notations.read", "read_score"),
    "style_names": ("appui.style.table", "style_names"),
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'appui' has no attribute {name!r}; it has {', '.join(__all__)}")
    module, there = _HOMES[name]
    found = globals()[name] = getattr(import_module(module), there)
    return found


def __dir__() -> list[str]:
    return list(__all__)
