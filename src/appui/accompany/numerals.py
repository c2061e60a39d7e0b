"""Roman numerals with a key, read into chord symbols: ``V6/5``, ``viio7``, ``ii``, ``bII6``, ``V7 of V``, ``Ger6``.

Written as `appui.harmony.roman` writes them: capitals for a major third, small letters for a minor one, ``o``
diminished, ``ø`` half-diminished, ``+`` augmented, figures with or without strokes (``V65``), ``of`` or ``/`` before
the degree a chord belongs to. In minor the degrees are those of the natural scale, but ``vii`` with ``o`` or ``ø``
stands on the leading note. A seventh is the scale's own unless the quality says another.
"""

from __future__ import annotations

import re

from appui.exact import Fraction
from appui.harmony.kinds import KINDS
from appui.harmony.places import letter_place
from appui.harmony.spelling import letter_of
from appui.score.model import ChordSymbol

__all__ = ["parse_key", "parse_numeral"]

_DEGREES = {"I": 0, "II": 1, "III": 2, "IV": 3, "V": 4, "VI": 5, "VII": 6}
_SCALES = {False: (0, 2, 4, -1, 1, 3, 5), True: (0, 2, -3, -1, 1, -4, -2)}
_NUMERAL = re.compile(
    r"(?P<sign>[#b]*)(?P<degree>VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)(?P<quality>[oø+°]?)(?P<figures>[\d/]*?)"
    r"(?:\s*(?:of|/)\s*(?P<target>[#b]*(?:VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)))?"
)
_KEY = re.compile(r"(?P<tonic>[A-Ga-g](?:#|b)?)\s*(?P<mode>major|minor|maj|min|m|)", re.IGNORECASE)
#  figures without strokes: how many notes, which one is lowest
_FIGURES = {
    "": (3, 0),
    "5": (3, 0),
    "53": (3, 0),
    "6": (3, 1),
    "63": (3, 1),
    "64": (3, 2),
    "7": (4, 0),
    "65": (4, 1),
    "43": (4, 2),
    "643": (4, 2),
    "42": (4, 3),
    "2": (4, 3),
}
#  augmented sixths: kind, and for each of their figures the lowest note in the kind's own order
_SIXTHS = {"It": ("Italian", {"6": 0}), "Fr": ("French", {"43": 0, "6": 0}), "Ger": ("German", {"65": 0, "6": 0})}
_LEADING = 5


def parse_key(text: str) -> tuple[int, bool] | None:
    """A key in words as its tonic's place and whether it is minor; `None` where it is none.

    >>> parse_key("G minor"), parse_key("Bb major")
    ((1, True), (-2, False))
    """
    match = _KEY.fullmatch(text.strip().replace("♭", "b").replace("♯", "#"))
    if match is None:
        return None
    tonic, mode = match["tonic"], match["mode"]
    minor = mode.lower() in ("minor", "min") or mode == "m" or (not mode and tonic[0].islower())
    return letter_place(tonic[0].upper() + tonic[1:]), minor


def parse_numeral(text: str, tonic: int, *, minor: bool, onset_q: Fraction = Fraction(0)) -> ChordSymbol | None:
    """The chord symbol of a numeral in a key, or `None` where the text is no numeral.

    >>> parse_numeral("V6/5", 1, minor=True)[1:4]
    ('D', 'dominant', 'F#')
    """
    plain = text.strip().replace("♭", "b").replace("♯", "#")
    sixth = re.fullmatch(r"(It|Fr|Ger)([\d/]*)", plain)
    if sixth is not None:
        return _augmented(sixth[1], sixth[2].replace("/", ""), tonic, onset_q)
    match = _NUMERAL.fullmatch(plain)
    if match is None or match["figures"].replace("/", "") not in _FIGURES:
        return None
    if match["target"]:
        tonic, minor = _target(match["target"], tonic, minor=minor)
    return _symbol(match, tonic, minor, onset_q)


def _augmented(name: str, figures: str, tonic: int, onset_q: Fraction) -> ChordSymbol | None:
    kind, known = _SIXTHS[name]
    return ChordSymbol(onset_q, letter_of(tonic - 4), kind) if figures in known else None


def _target(text: str, tonic: int, *, minor: bool) -> tuple[int, bool]:
    degree = text.lstrip("#b")
    place = tonic + _SCALES[minor][_DEGREES[degree.upper()]] + _signs(text)
    return place, degree.islower()


def _signs(text: str) -> int:
    signs = text[: len(text) - len(text.lstrip("#b"))]
    return 7 * (signs.count("#") - signs.count("b"))


def _symbol(match: re.Match[str], tonic: int, minor: bool, onset_q: Fraction) -> ChordSymbol | None:
    quality = match["quality"].replace("°", "o")
    degree = _DEGREES[match["degree"].upper()]
    scale = [tonic + gap for gap in _SCALES[minor]]
    root = scale[degree] + _signs(match["sign"])
    if degree == 6 and quality in ("o", "ø") and not match["sign"]:
        root = tonic + _LEADING
    notes, lowest = _FIGURES[match["figures"].replace("/", "")]
    gaps: tuple[int, ...] = (0, -3 if match["degree"].islower() else 4, {"o": -6, "ø": -6, "+": 8}.get(quality, 1))
    if notes == 4 or quality == "ø":
        gaps = (*gaps, _seventh(quality, scale[(degree + 6) % 7] - root))
    kind = next((name for name, kind in KINDS.items() if kind.fifths == gaps), None)
    if kind is None or lowest >= len(gaps):
        return None
    return ChordSymbol(onset_q, letter_of(root), kind, letter_of(root + gaps[lowest]) if lowest else "")


def _seventh(quality: str, natural: int) -> int:
    """Fifths from the root to the seventh; the scale's own where no quality says another."""
    fixed = {"o": -9, "ø": -2}.get(quality)
    return fixed if fixed is not None else natural if natural in (-2, 5) else -2
