"""Figures as text: ``6/5``, ``#``, ``b7/3``, ``6+``; and figures that an edition has printed as text under its bass.

Many files carry the figures as lyrics or words under the bass part. They are taken for figures where the part has no
figures of its own and what is there can be nothing else: every lyric is a figure, or, for words, the figures among
them hold a 6 or 7 and no number that is none (1 or above 9: those count bars or mark a rehearsal). Several rows of
lyrics, a line break or a stroke stack figures; a space or hyphen sets them one after the other over their note.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import NamedTuple

from appui.exact import Fraction
from appui.score.model import Figure, FiguredBass

__all__ = ["FIGURE", "Text", "figures_in_texts", "parse_figures", "stacked"]

FIGURE = re.compile(r"(?P<before>[#b♯♭♮n+]*)(?P<digits>\d{0,2})(?P<after>[#b♯♭♮n+]*)")
_NAMES = {"#": "sharp", "b": "flat", "n": "natural", "+": "plus", "": "", "♯": "sharp", "♭": "flat", "♮": "natural"}
_TOGETHER, _APART = re.compile(r"[/\n]"), re.compile(r"[ \-–]+")
_NUMBER = re.compile(r"\d+")
# what is set on one line without a sign between: 65 is 6 over 5
_STACKED = re.compile(r"[2-9]{1,4}")
_TELLING = frozenset("67")
# the early figured basses count on above the octave, to the fourteenth (memory)
_NUMBERS = range(2, 15)
_FEWEST = 2


class Text(NamedTuple):
    """A text under a part: bar index, place in the bar, length of the note there, what it says, whether a lyric."""

    bar: int
    at_q: Fraction
    duration_q: Fraction
    text: str
    lyric: bool


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


def stacked(figure: Figure) -> tuple[Figure, ...]:
    """A figure as it can be read: ``54`` in one is a 5 over a 4; nothing where it is no figure at all.

    >>> [each.number for each in stacked(Figure("54"))], stacked(Figure("0")), stacked(Figure("ped."))
    (['5', '4'], (), ())
    """
    match = FIGURE.fullmatch(figure.number.strip())
    if match is not None and (not match["digits"] or int(match["digits"]) in _NUMBERS):
        return (figure,)
    if _STACKED.fullmatch(figure.number) and len(set(figure.number)) == len(figure.number):
        return (figure._replace(number=figure.number[0]), *map(Figure, figure.number[1:]))
    return ()


def figures_in_texts(texts: Sequence[Text]) -> list[tuple[int, Fraction, FiguredBass]]:
    """The figures among the texts of a part: bar index, place in the bar, figures; none where the texts are others.

    >>> six_five, sharp = (Fraction(0), Fraction(2), "6 5", True), (Fraction(2), Fraction(1), "#", True)
    >>> found = figures_in_texts([Text(0, *six_five), Text(0, *sharp)])
    >>> [(str(at_q), [f.number or f.prefix for f in entry.figures]) for _, at_q, entry in found]
    [('0', ['6']), ('1', ['5']), ('2', ['sharp'])]
    """
    lyrics = [text for text in texts if text.lyric]
    if all(_rows(text.text) for text in lyrics) and _tell(lyrics):
        return list(_placed(lyrics))
    words = [text for text in texts if not text.lyric]
    figures = [text for text in words if _rows(text.text)]
    return list(_placed(figures)) if _tell(figures) and not any(map(_counts, words)) else []


def _tell(texts: Sequence[Text]) -> bool:
    """Whether texts can be nothing but figures."""
    telling = any(_TELLING & set(text.text) for text in texts)
    return len(texts) >= _FEWEST and telling and not any(map(_counts, texts))


def _counts(text: Text) -> bool:
    """Whether a number in a text is no figure: it counts something."""
    return any(not _STACKED.fullmatch(number) for number in _NUMBER.findall(text.text))


def _rows(text: str) -> list[tuple[Figure, ...]]:
    """What a text says, one row after the other; nothing where it is no figure."""
    rows = []
    for row in _APART.split(text.strip()):
        words = ["/".join(word) if _STACKED.fullmatch(word) else word for word in _TOGETHER.split(row)]
        try:
            rows.append(parse_figures("/".join(words)))
        except ValueError:
            return []
    return rows if all(figure.number or figure.prefix for row in rows for figure in row) else []


def _placed(texts: Sequence[Text]) -> Iterable[tuple[int, Fraction, FiguredBass]]:
    for (bar, at_q), group in groupby(texts, key=lambda text: (text.bar, text.at_q)):
        stack = list(group)
        verses = [_rows(text.text) for text in stack]
        count = max(map(len, verses))
        each_q = stack[0].duration_q / count
        for index in range(count):
            figures = tuple(figure for rows in verses if index < len(rows) for figure in rows[index])
            yield bar, at_q + index * each_q, FiguredBass(Fraction(0), each_q, figures)
