"""Chord symbols as text: ``Bb``, ``F#m7``, ``C7/E``, ``G7sus4`` … to MusicXML kinds and back, and their tones.

The kinds are those of MusicXML 4.0 (read); the spellings of the text those in common use.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from appui.exact import Fraction
from appui.harmony.places import letter_place
from appui.score.model import ChordSymbol

__all__ = ["KINDS", "NO_CHORD", "Kind", "parse_symbol", "symbol_places", "symbol_text"]

NO_CHORD = "none"


class Kind(NamedTuple):
    """What a kind is made of: places on the line of fifths above the root, and its spellings, the first for writing."""

    fifths: tuple[int, ...]
    texts: tuple[str, ...] = ()


# fmt: off
KINDS: dict[str, Kind] = {
    "major":              Kind((0, 4, 1), ("", "maj", "M")),
    "minor":              Kind((0, -3, 1), ("m", "min", "-")),
    "augmented":          Kind((0, 4, 8), ("aug", "+")),
    "diminished":         Kind((0, -3, -6), ("dim", "o", "°")),
    "dominant":           Kind((0, 4, 1, -2), ("7",)),
    "major-seventh":      Kind((0, 4, 1, 5), ("maj7", "M7")),
    "minor-seventh":      Kind((0, -3, 1, -2), ("m7", "min7", "-7")),
    "diminished-seventh": Kind((0, -3, -6, -9), ("dim7", "o7", "°7")),
    "augmented-seventh":  Kind((0, 4, 8, -2), ("aug7", "+7", "7#5")),
    "half-diminished":    Kind((0, -3, -6, -2), ("m7b5", "ø", "ø7")),
    "major-minor":        Kind((0, -3, 1, 5), ("mM7", "mmaj7")),
    "major-sixth":        Kind((0, 4, 1, 3), ("6",)),
    "minor-sixth":        Kind((0, -3, 1, 3), ("m6",)),
    "dominant-ninth":     Kind((0, 4, 1, -2, 2), ("9",)),
    "major-ninth":        Kind((0, 4, 1, 5, 2), ("maj9", "M9")),
    "minor-ninth":        Kind((0, -3, 1, -2, 2), ("m9",)),
    "suspended-second":   Kind((0, 2, 1), ("sus2",)),
    "suspended-fourth":   Kind((0, -1, 1), ("sus4", "sus")),
    "power":              Kind((0, 1), ("5",)),
    "Italian":            Kind((0, 4, 10), (" It6",)),
    "French":             Kind((0, 4, 6, 10), (" Fr6",)),
    "German":             Kind((0, 4, 1, 10), (" Ger6",)),
    "Neapolitan":         Kind((0, 4, 1)),
    "dominant-11th":      Kind((0, 1, -2, 2, -1)),
    "major-11th":         Kind((0, 1, 5, 2, -1)),
    "minor-11th":         Kind((0, -3, 1, -2, -1)),
    "dominant-13th":      Kind((0, 4, -2, 3)),
    "major-13th":         Kind((0, 4, 5, 3)),
    "minor-13th":         Kind((0, -3, -2, 3)),
}
# fmt: on
_BY_TEXT = {text.strip(): name for name, kind in KINDS.items() for text in kind.texts}
_SYMBOL = re.compile(r"(?P<root>[A-G](?:#{1,2}|b{1,2})?)\s*(?P<kind>[^/]*?)(?:/(?P<bass>[A-G](?:#{1,2}|b{1,2})?))?")
_PLAIN = str.maketrans({"♭": "b", "♯": "#"})
#  fifths above the root of added and altered degrees
_DEGREES = {1: 0, 2: 2, 3: 4, 4: -1, 5: 1, 6: 3, 7: -2, 9: 2, 11: -1, 13: 3}


def parse_symbol(text: str, onset_q: Fraction = Fraction(0)) -> ChordSymbol | None:
    """A chord symbol, or `None` where the text is none; ``N.C.`` and ``-`` say that no chord sounds.

    >>> parse_symbol("F#m7/E").root, parse_symbol("F#m7/E").kind, parse_symbol("F#m7/E").bass
    ('F#', 'minor-seventh', 'E')
    """
    plain = text.strip().translate(_PLAIN)
    if plain in ("N.C.", "NC", "-"):
        return ChordSymbol(onset_q, "C", NO_CHORD)
    match = _SYMBOL.fullmatch(plain)
    kind = _BY_TEXT.get(match["kind"].strip()) if match else None
    if match is None or kind is None:
        return None
    return ChordSymbol(onset_q, match["root"], kind, match["bass"] or "")


def symbol_text(symbol: ChordSymbol) -> str:
    """The symbol as it is written in a chord file; a kind without a spelling of its own by its name."""
    if symbol.kind == NO_CHORD:
        return "N.C."
    kind = KINDS.get(symbol.kind)
    suffix = kind.texts[0] if kind and kind.texts else f" {symbol.kind}"
    return f"{symbol.root}{suffix}" + (f"/{symbol.bass}" if symbol.bass else "")


def symbol_places(symbol: ChordSymbol) -> tuple[int, ...]:
    """The places of a symbol's tones, root first; empty where no chord sounds or the kind is unknown."""
    kind = KINDS.get(symbol.kind)
    if kind is None:
        return ()
    root = letter_place(symbol.root)
    places = [root + gap for gap in kind.fifths]
    for value, alter, what in symbol.degrees:
        natural = root + _DEGREES.get(value, 0)
        if what == "subtract":
            places = [place for place in places if place != natural + 7 * alter]
        elif what == "alter":
            # the degree as it stands in the chord, whatever its size, gives way
            places = [place for place in places if (place - natural) % 7] + [natural + 7 * alter]
        elif natural + 7 * alter not in places:
            places.append(natural + 7 * alter)
    return tuple(places)
