"""Figures as text: ``6/5``, ``#``, ``b7/3``, ``6+``; and the text under a bass line that is nothing but figures."""

from __future__ import annotations

import re

from appui.score.model import Figure

__all__ = ["FIGURE", "parse_figures"]

FIGURE = re.compile(r"(?P<before>[#b♯♭♮n+]*)(?P<digits>\d{0,2})(?P<after>[#b♯♭♮n+]*)")
_NAMES = {"#": "sharp", "b": "flat", "n": "natural", "+": "plus", "": "", "♯": "sharp", "♭": "flat", "♮": "natural"}


def parse_figures(text: str) -> tuple[Figure, ...]:
    """Figures written on one line: ``6/5``, ``#``, ``b7/3``, ``6+``.

    >>> [(f.number, f.prefix, f.suffix) for f in parse_figures("#6/4")]
    [('6', 'sharp', ''), ('4', '', '')]
    """
    found = []
    for word in text.split("/"):
        match = FIGURE.fullmatch(word)
        if match is None or match["before"] not in _NAMES or match["after"] not in _NAMES:
            raise ValueError(f"{word!r} is no figure such as 6, #6, 4+ or #")
        found.append(Figure(match["digits"], _NAMES[match["before"]], _NAMES[match["after"]]))
    return tuple(found)
